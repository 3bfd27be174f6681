"""What is asked of the history again and again, in queries that read no more than is shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Select, exists, func, select
from sqlalchemy.orm import Session, aliased

from app.history.models import Athlete, Clip, Jump, Result, Split, Sprint, TrainingSession
from app.history.review_models import Revision
from app.history.transactions import collecting_later
from app.measured import JUMP_COLUMNS, ResultRecord
from app.names import name_key
from measure.report import JumpReport

BY_DAY = (TrainingSession.on_date, Clip.recorded_at.asc().nulls_first(), Clip.id)
"""Order of results in time. Databases differ about where nothing is: it comes first."""


@dataclass(frozen=True, slots=True)
class JumpRecord:
    """One kept jump of a current result, without its landing."""

    result_id: int
    on_date: date
    recorded_at: datetime | None
    clip_sha256: str
    clip_name: str
    exercise: str | None
    flightmark_version: str
    number: int
    """Place in the clip, from 1."""
    jump: JumpReport


@dataclass(frozen=True, slots=True)
class SplitRecord:
    """One kept split of a current result. Compare only what has the same marks and start rule."""

    result_id: int
    on_date: date
    recorded_at: datetime | None
    clip_sha256: str
    clip_name: str
    exercise: str | None
    start_rule: str
    surface: str
    slope_pct: float
    number: int
    """Place in the run, from 1."""
    from_m: float | None
    to_m: float
    time_s: float
    time_sigma_s: float
    side: str | None = None
    """The foot in front at the start, or the side of the turn."""


def list_results(
    session: Session, *, athlete: str | None = None, exercise: str | None = None,
    superseded: bool = False, result_id: int | None = None,
) -> list[ResultRecord]:  # fmt: skip
    """Give results with their whole reports, from the oldest day to the newest."""
    query = (
        select(
            Result.id, Athlete.name, TrainingSession.on_date, Clip.sha256, Clip.file_name,
            Clip.recorded_at, Result.created_at, Result.flightmark_version, Result.exercise,
            Result.report, Result.request, Result.track_sha256,
        )
        .join(Clip, Clip.id == Result.clip_id)
        .join(TrainingSession, TrainingSession.id == Clip.session_id)
        .join(Athlete, Athlete.id == Clip.athlete_id)
        .order_by(*BY_DAY, Result.id)
    )  # fmt: skip
    if athlete is not None:
        query = query.where(Athlete.name_key == name_key(athlete))
    if result_id is not None:
        query = query.where(Result.id == result_id)
    if exercise is not None:
        query = query.where(Result.exercise == exercise)
    if not superseded:
        query = query.where(is_current())
    with collecting_later():
        return [ResultRecord(*row) for row in session.execute(query)]


def list_jumps(session: Session, athlete: str, *, exercise: str | None) -> list[JumpRecord]:
    """Give an athlete's current jumps from the oldest to the newest."""
    columns = [getattr(Jump, name) for name in JUMP_COLUMNS]
    query = (
        select(
            Result.id, TrainingSession.on_date, Clip.recorded_at, Clip.sha256, Clip.file_name,
            Result.exercise, Result.flightmark_version, Jump.number, *columns,
        )
        .join(Jump, Jump.result_id == Result.id)
        .order_by(*BY_DAY, Jump.number)
    )  # fmt: skip
    rows = session.execute(_current(query, athlete, exercise=exercise))
    return [JumpRecord(*row[:8], jump=JumpReport(*row[8:])) for row in rows]


def list_splits(session: Session, athlete: str, *, exercise: str | None) -> list[SplitRecord]:
    """Give an athlete's current splits from the oldest to the newest."""
    query = (
        select(
            Result.id, TrainingSession.on_date, Clip.recorded_at, Clip.sha256, Clip.file_name,
            Result.exercise, Sprint.start_rule, Sprint.surface, Sprint.slope_pct, Split.number,
            Split.from_m, Split.to_m, Split.time_s, Split.time_sigma_s,
            func.coalesce(
                Result.report["sprint"]["start_foot"].as_string(),
                Result.report["sprint"]["turn"]["side"].as_string(),
            ),
        )
        .join(Sprint, Sprint.result_id == Result.id)
        .join(Split, Split.result_id == Result.id)
        .order_by(*BY_DAY, Split.number)
    )  # fmt: skip
    return [
        SplitRecord(*row) for row in session.execute(_current(query, athlete, exercise=exercise))
    ]


def list_revised(session: Session) -> set[int]:
    """Give the keys of results in which somebody moved an event by hand."""
    return set(session.scalars(select(Revision.result_id)))


def is_current() -> Any:
    """Say of a result that no newer one of its clip replaces it."""
    newer = aliased(Result)
    return ~exists().where(newer.clip_id == Result.clip_id, newer.id > Result.id)


def _current(query: Select[Any], athlete: str, *, exercise: str | None) -> Select[Any]:
    query = (
        query.join(Clip, Clip.id == Result.clip_id)
        .join(TrainingSession, TrainingSession.id == Clip.session_id)
        .join(Athlete, Athlete.id == Clip.athlete_id)
        .where(Athlete.name_key == name_key(athlete), is_current())
    )
    return query if exercise is None else query.where(Result.exercise == exercise)
