"""Every repetition's numbers of many athletes, without their reports: quick enough for a table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from app.history.models import Athlete, Clip, Jump, Result, Split, Sprint, TrainingSession
from app.history.reading import BY_DAY, is_current
from app.history.reviews import ClipRecord
from app.history.transactions import Transactions
from app.measured import JUMP_COLUMNS


@dataclass(frozen=True)
class NumbersOfClip:
    """A clip whose report was not read, and what of it has columns of its own."""

    clip: ClipRecord
    jumps: list[dict[str, Any]]
    sprint: dict[str, Any] | None


class Numbers:
    """The numbers of a history.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def list_numbers(
        self, athlete_ids: Sequence[int], *, since: date | None = None
    ) -> list[NumbersOfClip]:
        """Give the current numbers of some athletes' clips from the oldest to the newest."""
        return self._at.read(lambda session: _list(session, athlete_ids, since))


def _list(
    session: Session, athlete_ids: Sequence[int], since: date | None
) -> list[NumbersOfClip]:
    jump_columns = [getattr(Jump, name) for name in JUMP_COLUMNS]
    jumps = _current(select(Jump.result_id, *jump_columns), Jump.result_id, athlete_ids, since)
    by_result: dict[int, list[dict[str, Any]]] = {}
    for row in session.execute(jumps.order_by(Jump.result_id, Jump.number)):
        by_result.setdefault(row[0], []).append(dict(zip(JUMP_COLUMNS, row[1:], strict=True)))
    runs = _runs(session, athlete_ids, since)
    clips = _current(
        select(Result.id, Clip.id, Clip.athlete_id, Athlete.name, TrainingSession.on_date,
               Clip.recorded_at, Clip.added_at, Clip.sha256, Clip.file_name, Result.exercise),
        Result.id, athlete_ids, since,
    )  # fmt: skip
    rows = session.execute(clips.order_by(*BY_DAY))
    return [
        NumbersOfClip(_record(row), by_result.get(row[0], []), runs.get(row[0])) for row in rows
    ]


def _record(row: Any) -> ClipRecord:
    result_id, clip_id, athlete_id, athlete, on_date, recorded_at, added_at, *rest = row
    sha256, file_name, exercise = rest
    return ClipRecord(
        clip_id, athlete_id, athlete, on_date, recorded_at, added_at, sha256, file_name,
        result_id, exercise, {},
    )  # fmt: skip


def _runs(
    session: Session, athlete_ids: Sequence[int], since: date | None
) -> dict[int, dict[str, Any]]:
    query = select(
        Sprint.result_id, Sprint.start_rule, Sprint.surface, Sprint.slope_pct,
        Result.report["sprint"]["start_foot"].as_string(),
        Result.report["sprint"]["turn"]["side"].as_string(),
        Split.from_m, Split.to_m, Split.time_s, Split.time_sigma_s,
    ).join(Split, Split.result_id == Sprint.result_id)  # fmt: skip
    runs: dict[int, dict[str, Any]] = {}
    current = _current(query, Sprint.result_id, athlete_ids, since)
    for result_id, rule, surface, slope_pct, foot, turn_side, *split in session.execute(
        current.order_by(Split.id)
    ):
        run = runs.setdefault(result_id, {
            "start_rule": rule, "surface": surface, "slope_pct": slope_pct, "start_foot": foot,
            "turn": {"side": turn_side}, "splits": [],
        })  # fmt: skip
        names = ("from_m", "to_m", "time_s", "time_sigma_s")
        run["splits"].append(dict(zip(names, split, strict=True)))
    return runs


def _current(
    query: Select[Any], result_id: Any, athlete_ids: Sequence[int], since: date | None
) -> Select[Any]:
    if result_id is not Result.id:
        query = query.join(Result, Result.id == result_id)
    query = (
        query.join(Clip, Clip.id == Result.clip_id)
        .join(TrainingSession, TrainingSession.id == Clip.session_id)
        .join(Athlete, Athlete.id == Clip.athlete_id)
        .where(
            Clip.athlete_id.in_(athlete_ids),
            is_current(),
        )
    )
    if since is None:
        return query
    # By both columns of the index on days of training, or all athletes' days are gone through.
    return query.where(
        TrainingSession.athlete_id.in_(athlete_ids), TrainingSession.on_date >= since
    )
