"""Uploaded clips on their way to a result: kept in the database, so that a restart loses none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select, update
from sqlalchemy.orm import Session

from app.history.clip_orders import ClipOrders, Status, end_jobs
from app.history.models import Athlete
from app.history.review_models import ClipJob
from measure.types import Foot

OPEN: tuple[Status, ...] = ("waiting", "running")
ENDED_WITHOUT: tuple[Status, ...] = ("refused", "failed")
"""What coaches are asked to look at."""


@dataclass(frozen=True)
class Upload:
    """A whole clip that somebody has sent."""

    athlete_id: int
    clip_sha256: str
    file_name: str
    suffix: str
    exercise: str | None = None
    place_id: int | None = None
    start_foot: Foot | None = None


@dataclass(frozen=True)
class JobRecord:
    """Where an uploaded clip stands."""

    job_id: int
    athlete_id: int
    athlete: str
    clip_sha256: str
    file_name: str
    suffix: str
    exercise: str | None
    uploaded_at: datetime
    status: Status
    step: str | None
    part: float
    message: str | None
    hint: str | None
    result_id: int | None
    finished_at: datetime | None
    is_seen: bool = False
    """Whether a coach has looked at a clip without numbers."""

    @property
    def is_open(self) -> bool:
        """Whether something is still to come."""
        return self.status in OPEN


class ClipJobs(ClipOrders):
    """The queue of clips.

    Parameters
    ----------
    transactions : Transactions
    """

    def submit(self, upload: Upload, *, now: datetime) -> int:
        """Queue a clip; one that the athlete sent before is the same clip.

        A clip sent again with another exercise, or after a failure, is measured again.
        """

        def act(session: Session) -> int:
            row = session.scalar(
                select(ClipJob).where(
                    ClipJob.athlete_id == upload.athlete_id,
                    ClipJob.clip_sha256 == upload.clip_sha256,
                )
            )
            if row is None:
                row = ClipJob(
                    athlete_id=upload.athlete_id, clip_sha256=upload.clip_sha256,
                    file_name=upload.file_name[:255], suffix=upload.suffix,
                    exercise=upload.exercise, place_id=upload.place_id, uploaded_at=now,
                    start_foot=upload.start_foot, status="waiting",
                )  # fmt: skip
                session.add(row)
            elif _is_new_wish(row, upload):
                row.exercise = upload.exercise or row.exercise
                row.place_id = upload.place_id or row.place_id
                row.start_foot = upload.start_foot or row.start_foot
                _put_back(row)
            session.flush()
            return row.id

        return self._at.write(act)

    def measure_again(self, job_id: int, *, exercise: str | None) -> None:
        """Queue a clip once more, for example as another exercise."""

        def act(session: Session) -> None:
            row = session.get(ClipJob, job_id)
            if row is not None and row.status not in OPEN:
                row.exercise = exercise
                _put_back(row)

        self._at.write(act)

    def cancel(self, job_id: int, *, now: datetime) -> None:
        """Stop a waiting or running clip."""
        which = (ClipJob.id == job_id, ClipJob.status.in_(OPEN))
        said = ("Stopped by hand.", "Send it again.")
        end_jobs(self._at, *which, status="cancelled", said=said, now=now)

    def find(self, job_id: int) -> JobRecord | None:
        """Give one clip's standing."""
        return next(iter(self._list(_jobs().where(ClipJob.id == job_id))), None)

    def list_for(self, athlete_id: int, *, limit: int = 30) -> list[JobRecord]:
        """Give an athlete's clips, newest first."""
        query = _jobs().where(ClipJob.athlete_id == athlete_id)
        return self._list(query.order_by(ClipJob.id.desc()).limit(limit))

    def list_open(self, athlete_ids: Sequence[int]) -> list[JobRecord]:
        """Give what is waiting or running of some athletes."""
        query = _jobs().where(ClipJob.athlete_id.in_(athlete_ids), ClipJob.status.in_(OPEN))
        return self._list(query.order_by(ClipJob.id))

    def list_without_result(
        self, athlete_ids: Sequence[int], *, since: datetime
    ) -> list[JobRecord]:
        """Give clips that ended without numbers and no coach has looked at, oldest first."""
        query = _jobs().where(
            ClipJob.athlete_id.in_(athlete_ids), ClipJob.status.in_(ENDED_WITHOUT),
            ClipJob.uploaded_at >= since, ClipJob.is_seen.is_(False),
        )  # fmt: skip
        return self._list(query.order_by(ClipJob.id))

    def mark_seen(self, job_id: int) -> None:
        """Keep that a coach has looked at a clip without numbers."""
        ended = ClipJob.status.in_(ENDED_WITHOUT)
        query = update(ClipJob).where(ClipJob.id == job_id, ended).values(is_seen=True)
        self._at.write(lambda s: s.execute(query))

    def _list(self, query: Select[Any]) -> list[JobRecord]:
        return self._at.read(lambda s: [_record(row, name) for row, name in s.execute(query)])


def _is_new_wish(row: ClipJob, upload: Upload) -> bool:
    if row.status in OPEN:
        return False
    is_other = upload.exercise is not None and upload.exercise != row.exercise
    is_other = is_other or upload.place_id not in (None, row.place_id)
    is_other = is_other or upload.start_foot not in (None, row.start_foot)
    return row.status != "done" or is_other


def _put_back(row: ClipJob) -> None:
    row.status, row.part, row.attempt = "waiting", 0.0, 0
    row.message = row.hint = row.step = row.claim = None
    row.finished_at, row.is_seen = None, False


def _jobs() -> Select[Any]:
    return select(ClipJob, Athlete.name).join(Athlete, Athlete.id == ClipJob.athlete_id)


def _record(row: ClipJob, athlete: str) -> JobRecord:
    return JobRecord(
        row.id, row.athlete_id, athlete, row.clip_sha256, row.file_name, row.suffix, row.exercise,
        row.uploaded_at, row.status, row.step, row.part, row.message, row.hint,  # type: ignore[arg-type]
        row.result_id, row.finished_at, row.is_seen,
    )  # fmt: skip
