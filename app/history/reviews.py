"""Clips as they are looked at, and events of them moved by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from app.errors import HistoryFailed
from app.history.models import Athlete, Clip, Result, TrainingSession
from app.history.places import Places
from app.history.reading import BY_DAY, is_current
from app.history.review_mapping import json_with_reviewed, reviewed_from_json
from app.history.review_models import ClipJob, MovedEvent, Revision
from app.history.saving import insert_result
from app.history.transactions import Transactions, collecting_later
from app.history.words import Words
from measure.review import EventMove, review_events
from measure.types import Instant


class MovedMeanwhile(HistoryFailed):
    """Somebody else changed the same clip since it was shown."""


@dataclass(frozen=True)
class ClipRecord:
    """A clip with its current result."""

    clip_id: int
    athlete_id: int
    athlete: str
    on_date: date
    recorded_at: datetime | None
    added_at: datetime
    clip_sha256: str
    file_name: str
    result_id: int
    exercise: str | None
    report: dict[str, Any]

    @property
    def filmed_at(self) -> datetime:
        """When it was filmed, as far as the file says; else when it came."""
        return self.recorded_at or self.added_at


@dataclass(frozen=True)
class MoveRecord:
    """An event that somebody moved, and whether it was taken back."""

    move_id: int
    event: str
    from_s: float
    to_s: float
    why: str
    by_name: str
    moved_at: datetime
    undone_by: str | None
    undone_at: datetime | None


class Reviews(Words, Places):
    """Clips as coaches look at them.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def list_clips(
        self, athlete_ids: Sequence[int], *, since: date | None = None, exercise: str | None = None
    ) -> list[ClipRecord]:
        """Give current results from the oldest to the newest."""
        query = _current().where(Clip.athlete_id.in_(athlete_ids))
        if since is not None:
            query = query.where(TrainingSession.on_date >= since)
        if exercise is not None:
            query = query.where(Result.exercise == exercise)
        query = query.order_by(*BY_DAY)
        with collecting_later():
            return self._at.read(lambda s: [ClipRecord(*row) for row in s.execute(query)])

    def find_clip(self, clip_id: int) -> ClipRecord | None:
        """Give a clip with its current result."""
        query = _current().where(Clip.id == clip_id)
        found = self._at.read(lambda s: s.execute(query).first())
        return None if found is None else ClipRecord(*found)

    def find_by_result(self, result_id: int) -> ClipRecord | None:
        """Give the clip of a result, with the result that is current now."""
        query = select(Result.clip_id).where(Result.id == result_id)
        clip_id = self._at.read(lambda s: s.scalar(query))
        return None if clip_id is None else self.find_clip(clip_id)

    def list_owners(self, clip_sha256: str) -> list[int]:
        """Give the athletes who have a clip of this content."""

        def act(session: Session) -> list[int]:
            kept = session.scalars(select(Clip.athlete_id).where(Clip.sha256 == clip_sha256))
            sent = session.scalars(
                select(ClipJob.athlete_id).where(ClipJob.clip_sha256 == clip_sha256)
            )
            return sorted({*kept, *sent})

        return self._at.read(act)

    def move_event(
        self, clip: ClipRecord, move: EventMove, *, why: str, by_name: str, now: datetime
    ) -> ClipRecord:
        """Set an event by hand; every number that hangs on it is made again.

        Raises
        ------
        ValueError
            There is no such event, or the moment makes no sense.
        MovedMeanwhile
            The clip is not any more as it was shown.
        """

        def act(session: Session) -> None:
            base = _lock_base(session, clip)
            session.add(
                MovedEvent(
                    base_result_id=base.id,
                    event=_event_name(move),
                    sigma_s=move.to.sigma_s,
                    from_s=_event_time_s(clip.report, move),
                    to_s=move.to.time_s,
                    why=why.strip()[:500],
                    by_name=by_name,
                    moved_at=now,
                )
            )
            _keep_revision(session, base, now=now)

        self._at.write(act)
        return self._refreshed(clip)

    def undo_move(
        self, clip: ClipRecord, move_id: int, *, by_name: str, now: datetime
    ) -> ClipRecord:
        """Put a moved event back; the record of it stays.

        Raises
        ------
        MovedMeanwhile
            The clip is not any more as it was shown.
        """

        def act(session: Session) -> None:
            base = _lock_base(session, clip)
            row = session.get(MovedEvent, move_id)
            if row is None or row.base_result_id != base.id or row.undone_at is not None:
                raise MovedMeanwhile("That move was taken back already.", "Look again.")
            row.undone_by, row.undone_at = by_name, now
            _keep_revision(session, base, now=now)

        self._at.write(act)
        return self._refreshed(clip)

    def list_moves(self, clip_id: int) -> list[MoveRecord]:
        """Give every move in a clip, those taken back too, oldest first."""
        query = (
            select(MovedEvent)
            .join(Result, Result.id == MovedEvent.base_result_id)
            .where(Result.clip_id == clip_id)
            .order_by(MovedEvent.id)
        )
        return self._at.read(
            lambda s: [
                MoveRecord(row.id, row.event, row.from_s, row.to_s, row.why, row.by_name,
                           row.moved_at, row.undone_by, row.undone_at)
                for row in s.scalars(query)
            ]
        )  # fmt: skip

    def _refreshed(self, clip: ClipRecord) -> ClipRecord:
        found = self.find_clip(clip.clip_id)
        if found is None:
            raise MovedMeanwhile("This clip was deleted meanwhile.", "Go back to the list.")
        return found


def _current() -> Select[Any]:
    return (
        select(
            Clip.id, Clip.athlete_id, Athlete.name, TrainingSession.on_date, Clip.recorded_at,
            Clip.added_at, Clip.sha256, Clip.file_name, Result.id, Result.exercise, Result.report,
        )
        .join(TrainingSession, TrainingSession.id == Clip.session_id)
        .join(Athlete, Athlete.id == Clip.athlete_id)
        .join(Result, Result.clip_id == Clip.id)
        .where(is_current())
    )  # fmt: skip


def _lock_base(session: Session, clip: ClipRecord) -> Result:
    """Give the analysis under a clip's current result, if that is still what was shown."""
    session.execute(select(Clip.id).where(Clip.id == clip.clip_id).with_for_update())
    newest = session.scalar(select(func.max(Result.id)).where(Result.clip_id == clip.clip_id))
    if newest != clip.result_id:
        raise MovedMeanwhile(
            "Somebody else changed this clip while you were looking at it.",
            "Nothing of yours was kept; look at it as it is now, and decide again.",
        )
    revision = session.get(Revision, newest)
    return session.get_one(Result, revision.base_result_id if revision else newest)


def _keep_revision(session: Session, base: Result, *, now: datetime) -> None:
    session.flush()
    rows = session.scalars(
        select(MovedEvent)
        .where(MovedEvent.base_result_id == base.id, MovedEvent.undone_at.is_(None))
        .order_by(MovedEvent.id)
    )
    moves = [_move(row.event, Instant(row.to_s, row.sigma_s)) for row in rows]
    measured = review_events(reviewed_from_json(base.report), moves=moves)
    report = json_with_reviewed(base.report, measured)
    result_id = insert_result(session, base.clip_id, report, now=now)
    session.add(Revision(result_id=result_id, base_result_id=base.id))


def _event_name(move: EventMove) -> str:
    return move.kind if move.kind == "start" else f"{move.kind}:{move.number}"


def _move(event: str, to: Instant) -> EventMove:
    kind, _, number = event.partition(":")
    return EventMove(kind, int(number or 0), to)  # type: ignore[arg-type]


def _event_time_s(report: dict[str, Any], move: EventMove) -> float:
    try:
        if move.kind == "start":
            return float(report["sprint"]["start_s"])
        if move.kind == "crossing":
            return float(report["sprint"]["marks"][move.number - 1]["time_s"])
        return float(report["jumps"][move.number - 1][f"{move.kind}_s"])
    except (KeyError, IndexError, TypeError) as error:
        raise ValueError(f"event: there is no {_event_name(move)} in this clip") from error
