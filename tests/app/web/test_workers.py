"""Workers of their own: served, cancelled while running, died once, died twice, restarted."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.history.clip_jobs import JobRecord, Upload
from app.history.desk import open_desk
from app.web.services import Services
from app.web.worker import Orders
from app.web.workers import Workers
from tests.app.reports import a_jump, a_report
from tests.app.web.conftest import Team


def finish(orders: Orders, url: str, folder: str) -> None:
    """Stand in for a worker: measures at once what it is given."""
    desk = open_desk(url)
    while True:
        order = orders.take()
        report = a_report(a_jump(), content=f"clip {order.job_id}")
        desk.jobs.tell_progress(order.job_id, "poses", 0.5)
        desk.jobs.finish(order.job_id, report, now=datetime.now(UTC))
        orders.answer()


def die_once(orders: Orders, url: str, folder: str) -> None:
    """Stand in for a worker that dies at the first clip it is ever given."""
    order = orders.take()
    mark = Path(folder).parent / "died"
    if not mark.exists():
        mark.touch()
        os._exit(9)
    desk = open_desk(url)
    report = a_report(a_jump(), content=f"clip {order.job_id}")
    desk.jobs.finish(order.job_id, report, now=datetime.now(UTC))
    orders.answer()
    orders.take()


def die(orders: Orders, url: str, folder: str) -> None:
    """Stand in for a worker that dies at every clip."""
    orders.take()
    os._exit(9)


def sleep(orders: Orders, url: str, folder: str) -> None:
    """Stand in for a worker that never ends."""
    orders.take()
    time.sleep(600)


def queue(at: Services, team: Team) -> int:
    """Queue a clip whose content is that of the report to come."""
    count = len(at.desk.jobs.list_for(team.athlete_id)) + 1
    sha256 = a_report(content=f"clip {count}").clip.sha256
    upload = Upload(team.athlete_id, sha256, "a.mp4", ".mp4")
    return at.desk.jobs.submit(upload, now=datetime.now(UTC))


def wait_for(at: Services, job_id: int, reached: Callable[[JobRecord], bool]) -> JobRecord:
    for _ in range(400):
        job = at.desk.jobs.find(job_id)
        if job is not None and reached(job):
            return job
        time.sleep(0.05)
    raise AssertionError(f"still {job}")


@pytest.fixture
def workers(at: Services, tmp_path: Path) -> object:
    started: list[Workers] = []

    def start(target: Callable[..., None], count: int = 1) -> Workers:
        made = Workers(
            at.desk.jobs, url=at.url, clips_folder=tmp_path / "clips", count=count,
            target=f"{__name__}:{target.__name__}",
        )  # fmt: skip
        made.start()
        started.append(made)
        return made

    yield start
    for each in started:
        each.stop()


def test_two_clips_at_once_are_both_served(at: Services, ours: Team, workers: Callable) -> None:
    jobs = [queue(at, ours), queue(at, ours)]
    workers(finish, count=2)
    for job_id in jobs:
        assert wait_for(at, job_id, lambda job: not job.is_open).status == "done"


def test_a_running_clip_is_stopped_and_the_next_one_served(
    at: Services, ours: Team, workers: Callable
) -> None:
    job_id = queue(at, ours)
    workers(sleep)
    wait_for(at, job_id, lambda job: job.status == "running")
    at.desk.jobs.cancel(job_id, now=datetime.now(UTC))
    other = queue(at, ours)
    wait_for(at, other, lambda job: job.status == "running")
    stopped = at.desk.jobs.find(job_id)
    assert stopped is not None
    assert stopped.status == "cancelled"


def test_a_worker_that_died_is_tried_once_more(
    at: Services, ours: Team, workers: Callable
) -> None:
    job_id = queue(at, ours)
    workers(die_once)
    assert wait_for(at, job_id, lambda job: not job.is_open).status == "done"


def test_a_clip_that_kills_twice_has_failed_and_says_so(
    at: Services, ours: Team, workers: Callable
) -> None:
    job_id = queue(at, ours)
    workers(die)
    job = wait_for(at, job_id, lambda job: not job.is_open)
    assert job.status == "failed"
    assert "twice" in str(job.message)


def test_what_ran_when_the_server_stopped_is_measured_after_its_start(
    at: Services, ours: Team, workers: Callable
) -> None:
    job_id = queue(at, ours)
    first = workers(sleep)
    wait_for(at, job_id, lambda job: job.status == "running")
    first.stop()
    workers(finish)
    assert wait_for(at, job_id, lambda job: not job.is_open).status == "done"


def test_an_athlete_renamed_or_deleted_meanwhile(at: Services, ours: Team) -> None:
    job_id = queue(at, ours)
    at.desk.jobs.claim_next()
    at.desk.people.rename_athlete(ours.athlete_id, "Bo Other", stature_m=1.7)
    report = a_report(a_jump(), content="clip 1")
    result_id = at.desk.jobs.finish(job_id, report, now=datetime.now(UTC))
    clip = at.desk.reviews.find_by_result(result_id or 0)
    assert clip is not None
    assert clip.athlete == "Bo Other"
    job_id = queue(at, ours)
    at.desk.jobs.claim_next()
    at.desk.people.delete_athlete(ours.athlete_id)
    assert at.desk.jobs.finish(job_id, report, now=datetime.now(UTC)) is None
    assert at.desk.people.list_athletes(ours.coach) == []
