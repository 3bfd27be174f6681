"""Clips in the hands of those who measure them: taken from the queue, and what came of it."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import ColumnElement, select, update
from sqlalchemy.orm import Session

from app.errors import HistoryFailed
from app.history.accounts_models import AthleteFacts
from app.history.claims import Claims
from app.history.models import Athlete, Clip
from app.history.review_models import ClipJob, Place
from app.history.saving import (
    insert_missing,
    insert_result,
    keep_sessions,
    read_moment,
    tidy_file_name,
)
from app.history.transactions import Transactions
from measure.report import Report, as_json
from measure.types import Foot

Status = Literal["waiting", "running", "done", "refused", "failed", "cancelled"]
MOST_ATTEMPTS = 2
"""A worker that died is tried once more."""
BROKEN = (
    "Measuring this clip broke off twice.",
    "Send it again later; if it breaks off again, tell whoever runs this.",
)


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
    mass_kg: float | None
    setup: dict[str, Any] | None
    """Marked lane or reference length of the place."""
    start_foot: Foot | None
    """In front at the start of a run."""


class ClipOrders(Claims):
    """What workers ask of the queue and tell it.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

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

    def order_drawing(self, clip_id: int) -> Order | None:
        """Give what a worker needs to look at a measured clip once more; None where it is gone."""

        def act(session: Session) -> Order | None:
            clip = session.get(Clip, clip_id)
            if clip is None:
                return None
            row = session.scalar(
                select(ClipJob).where(
                    ClipJob.athlete_id == clip.athlete_id, ClipJob.clip_sha256 == clip.sha256
                )
            )
            # A clip of the command line has no job; it is asked of as an upload would be.
            row = row or ClipJob(id=0, athlete_id=clip.athlete_id, clip_sha256=clip.sha256)
            return _order(session, row)

        return self._at.read(act)

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
        end_jobs(self._at, *_held(order), status="refused", said=(message, hint), now=now)

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


def _held(order: Order) -> tuple[ColumnElement[bool], ...]:
    """Whether a clip is still measured by whom the order was given to."""
    is_theirs = ClipJob.claim == order.claim
    return ClipJob.id == order.job_id, ClipJob.status == "running", is_theirs


def end_jobs(
    at: Transactions, *which: ColumnElement[bool], status: Status, said: tuple[str, str],
    now: datetime,
) -> None:  # fmt: skip
    """Keep that clips ended without a result, and what is said about it."""
    values = {"status": status, "message": said[0][:1000], "hint": said[1][:1000]}
    query = update(ClipJob).where(*which).values(**values, finished_at=now)
    at.write(lambda s: s.execute(query))


def _order(session: Session, row: ClipJob) -> Order:
    athlete = session.get_one(Athlete, row.athlete_id)
    facts = session.get(AthleteFacts, row.athlete_id)
    place = row.place_id and session.get(Place, row.place_id)
    return Order(
        row.id, row.claim or "", row.clip_sha256, row.exercise, athlete.stature_m,
        facts.sex if facts else None, facts.mass_kg if facts else None,
        place.setup if place else None,
        row.start_foot,  # type: ignore[arg-type]
    )  # fmt: skip


def _keep_result(session: Session, job: ClipJob, report: Report, *, now: datetime) -> int:
    """Keep a report as the current result of the job's clip, on the day it was filmed."""
    if report.clip.sha256 != job.clip_sha256:
        raise HistoryFailed("The clip changed while it was measured.", "Send it again.")
    recorded_at = read_moment(report.clip.recorded_at)
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
