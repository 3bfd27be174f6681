"""What coaches say about clips: verdicts on repetitions, and notes to the athlete."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, select

from app.history.models import Clip
from app.history.review_models import Note, Verdict
from app.history.transactions import Transactions


@dataclass(frozen=True)
class VerdictRecord:
    """The word that counts on one repetition."""

    clip_id: int
    jump_number: int
    is_accepted: bool
    reason: str
    by_name: str
    given_at: datetime


@dataclass(frozen=True)
class NoteRecord:
    """A word to an athlete."""

    clip_id: int
    text: str
    by_name: str
    written_at: datetime


class Words:
    """The words about clips.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def judge(
        self, clip_id: int, *, jump_number: int, is_accepted: bool, reason: str, by_name: str,
        now: datetime,
    ) -> None:  # fmt: skip
        """Accept or reject a repetition; 0 is the whole clip."""
        row = Verdict(
            clip_id=clip_id, jump_number=jump_number, is_accepted=is_accepted,
            reason=reason.strip()[:500], by_name=by_name, given_at=now,
        )  # fmt: skip
        self._at.write(lambda s: s.add(row))

    def list_verdicts(self, clip_ids: Sequence[int]) -> dict[tuple[int, int], VerdictRecord]:
        """Give the newest word for each clip and jump."""
        return self._newest_words(Verdict.clip_id.in_(clip_ids))

    def list_verdicts_of(
        self, athlete_ids: Sequence[int]
    ) -> dict[tuple[int, int], VerdictRecord]:
        """Give the newest word for each clip and jump of some athletes."""
        clips = select(Clip.id).where(Clip.athlete_id.in_(athlete_ids))
        return self._newest_words(Verdict.clip_id.in_(clips))

    def _newest_words(self, which: ColumnElement[bool]) -> dict[tuple[int, int], VerdictRecord]:
        query = select(Verdict).where(which).order_by(Verdict.id)
        rows = self._at.read(lambda s: list(s.scalars(query)))
        return {
            (row.clip_id, row.jump_number): VerdictRecord(
                row.clip_id, row.jump_number, row.is_accepted, row.reason, row.by_name,
                row.given_at,
            )
            for row in rows
        }  # fmt: skip

    def write_note(self, clip_id: int, *, text: str, by_name: str, now: datetime) -> None:
        """Keep a word to the athlete."""
        row = Note(clip_id=clip_id, text=text.strip()[:2000], by_name=by_name, written_at=now)
        self._at.write(lambda s: s.add(row))

    def list_notes(self, clip_id: int) -> list[NoteRecord]:
        """Give the words about a clip, oldest first."""
        query = select(Note).where(Note.clip_id == clip_id).order_by(Note.id)
        return self._at.read(
            lambda s: [
                NoteRecord(row.clip_id, row.text, row.by_name, row.written_at)
                for row in s.scalars(query)
            ]
        )
