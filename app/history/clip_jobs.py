"""Uploaded clips on their way to a result: kept in the database, so that a restart loses none."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

from sqlalchemy import ColumnElement, Select, func, select, update
from sqlalchemy.orm import Session

from app.errors import HistoryFailed
from app.history.accounts_models import AthleteFacts
from app.history.claims import Claims
from app.history.mapping import Measured
from app.history.models import Athlete, Clip
from app.history.review_models import ClipJob, Place
from app.history.saving import (
    insert_results,
    insert_missing,
    keep_sessions,
    tidy_file_name,
)
from app.history.transactions import Transactions
from measure.report import Report, as_json
from measure.types import Foot

Status = Literal["waiting", "running", "done", "refused", "failed", "cancelled"]
SEEN = "seen by a coach"
"""Stands as the step of a clip without numbers that a coach has looked at."""
OPEN: tuple[Status, ...] = ("waiting", "running")
MOST_ATTEMPTS = 2
"""A worker that died is tried once more."""
BROKEN = (
    "Measuring this clip broke off twice.",
    "Send it again later; if it breaks off again, tell whoever runs this.",
)


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

    @property
    def is_seen(self) -> bool:
        """Whether a coach has looked at a clip without numbers."""
        return self.step == SEEN

    @property
    def is_open(self) -> bool:
        """Whether something is still to come."""
        return self.status in OPEN


@dataclass(frozen=True)
class Order:
    """All that a worker needs to measure one clip."""

    job_id: int
    claim: str
    """Goes with every word about it."""
    clip_sha256: str
    exercise: str | None
    stature_m: float | None
    sex: str | None
    setup: dict[str, Any] | None
    """Marked lane or reference length of the place."""
    start_foot: Foot | None
    """In front at the start of a run."""


class ClipJobs(Claims):
    """The queue of clips.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

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

    def claim_next(self, *, server: str, now: datetime) -> Order | None:
        """Take the oldest waiting clip for a worker of a server; None where none waits."""

        def act(session: Session) -> Order | None:
            query = select(ClipJob).where(ClipJob.status == "waiting").order_by(ClipJob.id)
            row = session.scalar(query.limit(1).with_for_update(skip_locked=True))
            if row is None:
                return None
            row.status, row.step, row.part = "running", "reading", 0.0
            row.claim, row.server, row.beat_at = secrets.token_hex(16), server, now
            row.attempt += 1
            return _order(session, row)

        return self._at.write(act)

    def tell_progress(self, order: Order, step: str, part: float) -> bool:
        """Keep how far a worker is; False where nobody waits for it any more."""
        news = {"step": step[:50], "part": min(max(part, 0.0), 1.0)}
        return self._at.write(
            lambda s: bool(s.execute(update(ClipJob).where(*_held(order)).values(news)).rowcount)
        )

    def finish(self, order: Order, report: Report, *, now: datetime) -> int | None:
        """Keep a report as the clip's current result.

        Returns
        -------
        int or None
            The result; None where the athlete or the job is gone, or it was cancelled.
        """

        def act(session: Session) -> int | None:
            row = session.scalar(select(ClipJob).where(*_held(order)).with_for_update())
            if row is None:
                return None
            result_id = _keep_result(session, row, report, now=now)
            is_measured = bool(report.jumps) or report.sprint is not None
            row.status = "done" if is_measured else "refused"
            row.result_id, row.finished_at = result_id, now
            row.message = row.hint = None
            if not is_measured and report.refusals:
                row.message, row.hint = report.refusals[0].reason, report.refusals[0].hint
            return result_id

        return self._at.write(act)

    def refuse(self, order: Order, *, message: str, hint: str, now: datetime) -> None:
        """Keep why a clip can't be measured and what to do differently."""
        _end(self._at, *_held(order), status="refused", said=(message, hint), now=now)

    def report_crash(self, order: Order, *, now: datetime) -> None:
        """Queue a clip once more after its worker died; the second time it has failed."""

        def act(session: Session) -> None:
            row = session.scalar(select(ClipJob).where(*_held(order)).with_for_update())
            if row is None:
                return
            if row.attempt < MOST_ATTEMPTS:
                row.status, row.step = "waiting", "again, after a fault"
                return
            row.status, row.finished_at = "failed", now
            row.message, row.hint = BROKEN

        self._at.write(act)

    def cancel(self, job_id: int, *, now: datetime) -> None:
        """Stop a waiting or running clip."""
        which = (ClipJob.id == job_id, ClipJob.status.in_(OPEN))
        said = ("Stopped by hand.", "Send it again.")
        _end(self._at, *which, status="cancelled", said=said, now=now)

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
            ClipJob.athlete_id.in_(athlete_ids), ClipJob.status.in_(("refused", "failed")),
            ClipJob.uploaded_at >= since, func.coalesce(ClipJob.step, "") != SEEN,
        )  # fmt: skip
        return self._list(query.order_by(ClipJob.id))

    def mark_seen(self, job_id: int) -> None:
        """Keep that a coach has looked at a clip without numbers."""
        ended = ClipJob.status.in_(("refused", "failed"))
        query = update(ClipJob).where(ClipJob.id == job_id, ended).values(step=SEEN)
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
    row.finished_at = None


def _held(order: Order) -> tuple[ColumnElement[bool], ...]:
    """Whether a clip is still measured by whom the order was given to."""
    is_theirs = ClipJob.claim == order.claim
    return ClipJob.id == order.job_id, ClipJob.status == "running", is_theirs


def _end(
    at: Transactions, *which: ColumnElement[bool], status: Status, said: tuple[str, str],
    now: datetime,
) -> None:  # fmt: skip
    values = {"status": status, "message": said[0][:1000], "hint": said[1][:1000]}
    query = update(ClipJob).where(*which).values(**values, finished_at=now)
    at.write(lambda s: s.execute(query))


def _jobs() -> Select[Any]:
    return select(ClipJob, Athlete.name).join(Athlete, Athlete.id == ClipJob.athlete_id)


def _record(row: ClipJob, athlete: str) -> JobRecord:
    return JobRecord(
        row.id, row.athlete_id, athlete, row.clip_sha256, row.file_name, row.suffix, row.exercise,
        row.uploaded_at, row.status, row.step, row.part, row.message, row.hint,  # type: ignore[arg-type]
        row.result_id, row.finished_at,
    )  # fmt: skip


def _order(session: Session, row: ClipJob) -> Order:
    athlete = session.get_one(Athlete, row.athlete_id)
    facts = session.get(AthleteFacts, row.athlete_id)
    place = row.place_id and session.get(Place, row.place_id)
    return Order(
        row.id, row.claim or "", row.clip_sha256, row.exercise, athlete.stature_m,
        facts.sex if facts else None, place.setup if place else None,
        row.start_foot,  # type: ignore[arg-type]
    )  # fmt: skip


def _keep_result(session: Session, job: ClipJob, report: Report, *, now: datetime) -> int:
    """Keep a report as the current result of the job's clip, on the day it was filmed."""
    if report.clip.sha256 != job.clip_sha256:
        raise HistoryFailed("The clip changed while it was measured.", "Send it again.")
    recorded_at = _moment(report.clip.recorded_at)
    on_date = (recorded_at or job.uploaded_at).astimezone().date()
    days = keep_sessions(session, [(job.athlete_id, on_date)])
    row = {
        "athlete_id": job.athlete_id, "session_id": days[job.athlete_id, on_date],
        "sha256": job.clip_sha256, "file_name": tidy_file_name(job.file_name),
        "recorded_at": recorded_at, "added_at": now,
    }  # fmt: skip
    key = (job.athlete_id, job.clip_sha256)
    clips = insert_missing(session, Clip, {key: row}, columns=("athlete_id", "sha256"))
    return insert_result(session, clips[key], as_json(report), now=now)


def insert_result(session: Session, clip_id: int, report: dict[str, Any], *, now: datetime) -> int:
    """Keep a report as the current result of a clip."""
    measured = Measured(report, athlete="", on_date=now.date(), clip_name="", saved_at=now)
    return insert_results(session, [(clip_id, measured)])[0]


def _moment(text: str | None) -> datetime | None:
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
