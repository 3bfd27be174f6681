"""The history's few verbs: save a result, list athletes and results. One transaction each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, TypeVar

from sqlalchemy import Engine, Select, func, select, text
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError
from sqlalchemy.orm import Session

from app.errors import HistoryFailed
from app.exchange.readings import Reading
from app.history.importing import Imported, import_all
from app.history.models import Athlete, Clip, Result
from app.history.reading import (
    JumpRecord,
    SplitRecord,
    list_jumps,
    list_results,
    list_revised,
    list_splits,
)
from app.history.readings import list_readings, save_readings
from app.history.saving import save_measured
from app.history.unmeasured import (
    MeasuredBy,
    is_up_to_date,
    note_unmeasured,
    why_unmeasured,
)
from app.measured import Measured, ResultRecord
from app.names import name_key
from measure.report import Report, as_json

T = TypeVar("T")
WRITE_TRIES = 5
WORTH_A_LOOK = 0.1
"""Part of a history that must be new before its statistics are taken again."""
RETRY_STATES = {"40001", "40P01"}
"""PostgreSQL: two writers stood in each other's way, and one was turned back."""


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
        request: dict[str, Any] | None = None,
        track_sha256: str | None = None,
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
        request : dict, optional
            What was asked of the clip, as ``app.requests.request_as_json`` gives it.
        track_sha256 : str, optional
            Name of the body track in the store.

        Raises
        ------
        ValueError
            The name is empty, too long or holds control characters, or ``saved_at`` has no zone.
        HistoryFailed
            The database refused, for example because its disk is full.
        """
        measured = Measured(
            as_json(report), athlete, on_date, clip_name, saved_at, stature_m, request,
            track_sha256,
        )  # fmt: skip

        def save(session: Session) -> ResultRecord:
            (key,) = save_measured(session, [measured])
            return list_results(session, result_id=key, superseded=True)[0]

        return self._write(save)

    def save_results(self, items: Sequence[Measured]) -> list[int]:
        """Keep many reports in one transaction, as ``save_result`` keeps one.

        Parameters
        ----------
        items : sequence of Measured
            A thousand or so at a time.

        Returns
        -------
        list of int
            Key of each one's result, of the present one where the report equals it.
        """
        return self._write(lambda session: save_measured(session, items))

    def list_athletes(self) -> list[AthleteRecord]:
        """Give every athlete by name, with the number of clips."""
        with self._session(self._engine) as session:
            # Sorted here: databases differ about the order of letters.
            rows = sorted(session.execute(_athletes()), key=lambda row: name_key(row[0]))
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
        with self._session(self._engine) as session:
            return list_results(session, athlete=athlete, exercise=exercise, superseded=superseded)

    def is_up_to_date(self, key: MeasuredBy) -> bool:
        """Say whether a clip's current result is by these very means."""
        with self._session(self._engine) as session:
            return is_up_to_date(session, key)

    def why_unmeasured(self, key: MeasuredBy) -> str | None:
        """Give why a clip has no number by these means, None where that isn't known."""
        with self._session(self._engine) as session:
            return why_unmeasured(session, key)

    def note_unmeasured(
        self, key: MeasuredBy, *, clip_name: str, reason: str, noted_at: datetime
    ) -> None:
        """Note that a clip gives no number by these means, so that it isn't tried in vain."""
        self._write(
            lambda session: note_unmeasured(
                session, key, clip_name=clip_name, reason=reason, noted_at=noted_at
            )
        )

    def list_revised(self) -> set[int]:
        """Give the keys of results in which somebody moved an event by hand."""
        with self._session(self._engine) as session:
            return list_revised(session)

    def list_jumps(self, athlete: str, *, exercise: str | None = None) -> list[JumpRecord]:
        """Give an athlete's current jumps in order of time, without reading whole reports."""
        with self._session(self._engine) as session:
            return list_jumps(session, athlete, exercise=exercise)

    def list_splits(self, athlete: str, *, exercise: str | None = None) -> list[SplitRecord]:
        """Give an athlete's current splits in order of time, without reading whole reports."""
        with self._session(self._engine) as session:
            return list_splits(session, athlete, exercise=exercise)

    def import_results(self, parts: Callable[[], Iterable[Sequence[Measured]]]) -> Imported:
        """Keep exported results, as ``save_results`` does, but each once however old it is.

        All in one transaction: where the parts end in an error, nothing is kept. SQLite's other
        writers wait as long as it takes.

        Parameters
        ----------
        parts : callable
            Gives the results, some thousand at a time; called again where another writer stood in
            the way.
        """
        return self._write(lambda session: import_all(session, parts()))

    def refresh_statistics(self, *, new_count: int | None = None) -> None:
        """Have the database look anew at what is in its tables, as after a large import.

        PostgreSQL does so by itself some minutes later; until then its answers can be slow.

        Parameters
        ----------
        new_count : int, optional
            How many results came since the last time: few among many change nothing.
        """

        def act(session: Session) -> None:
            newest = session.scalar(select(func.max(Result.id))) or 0
            if new_count is None or new_count > newest * WORTH_A_LOOK:
                session.execute(text("ANALYZE"))

        self._write(act)

    def save_readings(self, readings: Sequence[Reading], *, imported_at: datetime) -> int:
        """Keep numbers measured by other means; those that are there add nothing.

        Returns
        -------
        int
            How many were new.
        """
        return self._write(
            lambda session: save_readings(session, readings, imported_at=imported_at)
        )

    def list_readings(self, athlete: str) -> list[Reading]:
        """Give an athlete's numbers by other means, from the oldest day to the newest."""
        with self._session(self._engine) as session:
            return list_readings(session, athlete)

    def _write(self, act: Callable[[Session], T]) -> T:
        for _ in range(WRITE_TRIES - 1):
            try:
                with Session(self._writer) as session, session.begin():
                    return act(session)
            except IntegrityError:
                continue  # another process made the same row first: find it now
            except OperationalError as error:
                if getattr(error.orig, "sqlstate", None) not in RETRY_STATES:
                    raise _failed(error) from error
            except DBAPIError as error:
                raise _failed(error) from error
        with self._session(self._writer) as session, session.begin():
            return act(session)

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
