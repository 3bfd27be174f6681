"""The history's few verbs: save a result, list athletes and results. One transaction each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, TypeVar

from sqlalchemy import Engine, Select, exists, func, select
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.orm import Session, aliased, joinedload, selectinload

from app.errors import HistoryFailed
from app.history.mapping import ResultRecord, record_from_row, row_from_report
from app.history.models import Athlete, Clip, Result, TrainingSession
from app.names import name_key, tidy_name
from measure.report import Report

T = TypeVar("T")


@dataclass(frozen=True)
class AthleteRecord:
    """One athlete of the history."""

    name: str
    stature_m: float | None
    clip_count: int


class History:
    """An open history. Close it, or use it as a context manager.

    Parameters
    ----------
    engine : Engine
        On a database whose tables are up to date; ``open_history`` makes one.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._writer = engine.execution_options(sqlite_begin="IMMEDIATE")

    def __enter__(self) -> History:
        return self

    def __exit__(self, *_exception: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def save_result(
        self,
        report: Report,
        *,
        athlete: str,
        on_date: date,
        clip_name: str,
        saved_at: datetime,
        stature_m: float | None = None,
    ) -> ResultRecord:
        """Keep a report as the current result of its clip: all of it, or nothing.

        A clip that the athlete already has, known by its content, stays one clip on its first
        day; a report equal to its current one adds nothing; another one becomes the current one
        and the old one stays.

        Parameters
        ----------
        report : Report
        athlete : str
            Made where there is none of that name (upper and lower case are the same).
        on_date : date
            Day of training that the clip belongs to.
        clip_name : str
            Name to show for the file.
        saved_at : datetime
            Now, with its time zone.
        stature_m : float, optional
            Kept with the athlete where given.

        Raises
        ------
        ValueError
            The name is empty, too long or holds control characters, or ``saved_at`` has no zone.
        HistoryFailed
            The database refused, for example because its disk is full.
        """
        name = tidy_name(athlete)
        if saved_at.tzinfo is None:
            raise ValueError(f"saved_at: expected a time with its zone, got {saved_at!r}")

        def save(session: Session) -> ResultRecord:
            owner = _athlete_row(session, name, created_at=saved_at)
            owner.stature_m = owner.stature_m if stature_m is None else stature_m
            clip = _clip_row(
                session, report, owner=owner, on_date=on_date, clip_name=clip_name,
                added_at=saved_at,
            )  # fmt: skip
            row = row_from_report(report, created_at=saved_at)
            current = session.scalar(_newest(clip))
            if current is None or current.report != row.report:
                row.clip_id = clip.id
                session.add(row)
                session.flush()
                current = row
            return record_from_row(session.scalars(_whole().where(Result.id == current.id)).one())

        return self._write(save)

    def list_athletes(self) -> list[AthleteRecord]:
        """Give every athlete by name, with the number of clips."""
        with self._session(self._engine) as session:
            rows = session.execute(_athletes().order_by(Athlete.name_key))
            return [AthleteRecord(*row) for row in rows]

    def find_athlete(self, name: str) -> AthleteRecord | None:
        """Give the athlete of a name, in any case, or None."""
        with self._session(self._engine) as session:
            row = session.execute(_athletes().where(Athlete.name_key == name_key(name))).first()
            return None if row is None else AthleteRecord(*row)

    def list_results(
        self, athlete: str, *, exercise: str | None = None, superseded: bool = False
    ) -> list[ResultRecord]:
        """Give an athlete's results from the oldest day to the newest.

        Parameters
        ----------
        athlete : str
            Name, in any case; an unknown one has no results.
        exercise : str, optional
            Only those whose current result is of this exercise.
        superseded : bool
            Also the results that a newer analysis of the same clip has replaced.
        """
        query = (
            _whole()
            .join(Result.clip)
            .join(Clip.session)
            .join(TrainingSession.athlete)
            .where(Athlete.name_key == name_key(athlete))
            .order_by(TrainingSession.on_date, Clip.recorded_at, Clip.id, Result.id)
        )
        if exercise is not None:
            query = query.where(Result.exercise == exercise)
        if not superseded:
            newer = aliased(Result)
            query = query.where(
                ~exists().where(newer.clip_id == Result.clip_id, newer.id > Result.id)
            )
        with self._session(self._engine) as session:
            return [record_from_row(row) for row in session.scalars(query)]

    def _write(self, act: Callable[[Session], T]) -> T:
        try:
            with Session(self._writer) as session, session.begin():
                return act(session)
        except IntegrityError:
            # Another process may have made the same athlete, day or clip first: find it now.
            with self._session(self._writer) as session, session.begin():
                return act(session)
        except DBAPIError as error:
            raise _failed(error) from error

    @contextmanager
    def _session(self, engine: Engine) -> Iterator[Session]:
        try:
            with Session(engine) as session:
                yield session
        except DBAPIError as error:
            raise _failed(error) from error


def _failed(error: DBAPIError) -> HistoryFailed:
    return HistoryFailed(
        f"The history could not be read or written ({error.orig}).",
        "Nothing was half saved; check the disk or the database server and try again.",
    )


def _athletes() -> Select[*tuple[Any, ...]]:
    return (
        select(Athlete.name, Athlete.stature_m, func.count(Clip.id))
        .outerjoin(Clip, Clip.athlete_id == Athlete.id)
        .group_by(Athlete.id, Athlete.name, Athlete.stature_m, Athlete.name_key)
    )


def _whole() -> Select[Any]:
    return select(Result).options(
        joinedload(Result.clip).joinedload(Clip.session).joinedload(TrainingSession.athlete),
        selectinload(Result.jumps),
    )


def _newest(clip: Clip) -> Select[Any]:
    return select(Result).where(Result.clip_id == clip.id).order_by(Result.id.desc()).limit(1)


def _athlete_row(session: Session, name: str, *, created_at: datetime) -> Athlete:
    row = session.scalar(select(Athlete).where(Athlete.name_key == name_key(name)))
    if row is None:
        row = Athlete(name=name, name_key=name_key(name), created_at=created_at)
        session.add(row)
        session.flush()
    return row


def _session_row(session: Session, owner: Athlete, *, on_date: date) -> TrainingSession:
    row = session.scalar(
        select(TrainingSession).where(
            TrainingSession.athlete_id == owner.id, TrainingSession.on_date == on_date
        )
    )
    if row is None:
        row = TrainingSession(athlete_id=owner.id, on_date=on_date)
        session.add(row)
        session.flush()
    return row


def _clip_row(
    session: Session,
    report: Report,
    *,
    owner: Athlete,
    on_date: date,
    clip_name: str,
    added_at: datetime,
) -> Clip:
    facts = report.clip
    row = session.scalar(
        select(Clip).where(Clip.athlete_id == owner.id, Clip.sha256 == facts.sha256)
    )
    if row is None:
        row = Clip(
            athlete_id=owner.id, session_id=_session_row(session, owner, on_date=on_date).id,
            sha256=facts.sha256, file_name=clip_name, recorded_at=_moment(facts.recorded_at),
            added_at=added_at,
        )  # fmt: skip
        session.add(row)
        session.flush()
    return row


def _moment(text: str | None) -> datetime | None:
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
