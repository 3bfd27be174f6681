"""Clips on workers: served, stopped while running, died once, died twice, taken over, deleted."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, ClassVar

import pytest

from app.clip_files import ClipFiles
from app.history.clip_jobs import JobRecord, Upload
from app.history.clip_orders import Order
from app.history.reviews import ClipRecord
from app.jobs.clip_runner import ClipRunner
from app.jobs.clip_work import Place, draw_order, measure_order, redraw_order, request_of
from app.jobs.drawings import Drawings
from app.measuring import Measuring
from app.store import open_store
from app.web.leaving import delete_everything
from app.web.services import Services
from measure.errors import NothingToMeasure
from measure.review import EventMove
from measure.types import Instant
from tests.app.reports import a_jump, a_report
from tests.app.web.conftest import Team, keep_clip
from tests.app.web.stand_in_work import act_by_exercise, draw_a_mark, draw_anew

GONE = "elsewhere:1"


def queue(at: Services, team: Team, exercise: str = "vertical") -> int:
    """Queue a clip whose content is that of the report to come."""
    count = len(at.desk.jobs.list_for(team.athlete_id)) + 1
    sha256 = a_report(content=f"clip {count}").clip.sha256
    upload = Upload(team.athlete_id, sha256, "a.mp4", ".mp4", exercise)
    return at.desk.jobs.submit(upload, now=_now())


def wait_for(at: Services, job_id: int, reached: Callable[[JobRecord], bool]) -> JobRecord:
    for _ in range(2400):
        job = at.desk.jobs.find(job_id)
        if job is not None and reached(job):
            return job
        time.sleep(0.05)
    raise AssertionError(f"still {job}")


def is_over(job: JobRecord) -> bool:
    return not job.is_open


@pytest.fixture
def runner(at: Services, tmp_path: Path) -> Iterator[Callable[..., ClipRunner]]:
    started: list[ClipRunner] = []

    def start(**changes: Any) -> ClipRunner:
        place = Place(at.url, at.files.address)
        drawings = Drawings(at.files, place, draw_a_mark, draw_anew)
        made = ClipRunner(
            at.desk, at.files, place, work=act_by_exercise, drawings=drawings, grace_s=0.2,
            **changes,
        )  # fmt: skip
        made.start()
        started.append(made)
        return made

    (tmp_path / "data" / "store").mkdir(parents=True, exist_ok=True)
    yield start
    for each in started:
        each.stop()


def test_served_at_once_died_once_died_twice_and_stopped(
    at: Services, ours: Team, runner: Callable[..., ClipRunner]
) -> None:
    endless, other = queue(at, ours, "sprint"), queue(at, ours)
    runs = runner(count=2)
    wait_for(at, endless, lambda job: job.status == "running")
    assert wait_for(at, other, is_over).status == "done"  # beside the one that never ends
    once, twice = queue(at, ours, "drop_hops"), queue(at, ours, "turn_jump")
    assert wait_for(at, once, is_over).status == "done"
    failed = wait_for(at, twice, is_over)
    assert failed.status == "failed"
    assert "twice" in str(failed.message)
    at.desk.jobs.cancel(endless, now=_now())
    two_more = [queue(at, ours, "sprint"), queue(at, ours)]  # needs the stopped one's worker
    assert wait_for(at, two_more[1], is_over).status == "done"
    wait_for(at, two_more[0], lambda job: job.status == "running")
    stopped = at.desk.jobs.find(endless)
    assert stopped is not None
    assert stopped.status == "cancelled"
    drawn = Path(at.files.address) / f"drawn{two_more[1]}"
    for _ in range(2400):  # two minutes: a busy machine draws last
        if drawn.exists():
            break
        time.sleep(0.05)
    assert drawn.exists()
    runs.stop()  # what runs goes on at the next start, and that is not the clip's fault
    left = at.desk.jobs.find(two_more[0])
    assert left is not None
    assert left.status == "waiting"


def test_what_was_left_undrawn_is_drawn_when_somebody_looks(
    at: Services, ours: Team, runner: Callable[..., ClipRunner]
) -> None:
    clips = [
        find_clip(at, keep_clip(at, ours.athlete_id, content=exercise), exercise)
        for exercise in ("vertical", "drop_hops")
    ]
    for clip in clips:
        at.files.forget_drawing(clip.clip_sha256)
    assert not at.have_drawn(clips[0])  # nobody draws here
    at.runner = runner(count=1)
    for clip in clips:
        for _ in range(3):  # whoever looks asks again and again
            assert at.have_drawn(clip)
    for _ in range(600):
        if not at.have_drawn(clips[1]):
            break
        time.sleep(0.05)
    assert not at.have_drawn(clips[1])  # tried in vain, and not for ever
    drawn = at.files.find_annotated(clips[0].clip_sha256)
    assert drawn is not None
    assert drawn.read() == b"drawn with 1 jump"
    tries = [path.read_text() for path in Path(at.files.address).glob("tries*")]
    assert tries == ["x", "x"]


def test_films_that_were_missed_are_drawn_one_at_a_time(at: Services, ours: Team) -> None:
    class Cluster:
        handed: ClassVar[list[Any]] = []

        def submit(self, *_work: Any, **_how: Any) -> Any:
            self.handed.append(SimpleNamespace(done=lambda: False, status="pending"))
            return self.handed[-1]

    cluster: Any = Cluster()
    drawings = Drawings(at.files, Place(at.url, at.files.address))
    for exercise in ("vertical", "drop_hops"):
        clip = find_clip(at, keep_clip(at, ours.athlete_id, content=exercise), exercise)
        order = at.desk.jobs.order_drawing(clip.clip_id)
        assert order is not None
        assert drawings.ask(order, clip.report)
    for _ in range(3):
        drawings.hand_out(cluster, resources=None)
    assert len(cluster.handed) == 1  # an upload finds the other worker free
    cluster.handed[0].done = lambda: True
    drawings.hand_out(cluster, resources=None)
    assert len(cluster.handed) == 2


def find_clip(at: Services, clip_id: int, exercise: str) -> ClipRecord:
    clip = at.desk.reviews.find_clip(clip_id)
    assert clip is not None
    return replace(clip, report={**clip.report, "exercise": exercise})


def test_servers_on_one_database_leave_each_others_clips_alone(at: Services, ours: Team) -> None:
    jobs, now = at.desk.jobs, _now()
    job_id = queue(at, ours)
    held = jobs.claim_next(server=GONE, now=now)
    assert held is not None
    jobs.put_back_lost(before=now - timedelta(seconds=60), now=now)
    assert jobs.claim_next(server="here:2", now=now) is None  # the other one is there
    later = now + timedelta(seconds=61)
    jobs.beat(GONE, now=later)
    jobs.put_back_lost(before=later - timedelta(seconds=60), now=later)
    assert jobs.claim_next(server="here:2", now=later) is None  # and says so
    jobs.put_back_lost(before=later + timedelta(seconds=1), now=later)
    taken = jobs.claim_next(server="here:2", now=later)
    assert taken is not None
    report = a_report(a_jump(), content="clip 1")
    assert jobs.finish(held, report, now=later) is None  # word of a claim that was lost
    assert not jobs.tell_progress(held, "poses", 0.9)
    assert jobs.finish(taken, report, now=later) is not None
    job = jobs.find(job_id)
    assert job is not None
    assert job.status == "done"


def test_a_clip_under_which_servers_vanish_is_left_alone_at_last(at: Services, ours: Team) -> None:
    job_id = queue(at, ours)
    for _ in range(3):
        assert at.desk.jobs.claim_next(server=GONE, now=_now()) is not None
        at.desk.jobs.put_back_lost(before=_now() - timedelta(60), now=_now(), servers=[GONE])
    job = at.desk.jobs.find(job_id)
    assert job is not None
    assert job.status == "failed"


def test_an_athlete_renamed_or_deleted_meanwhile(at: Services, ours: Team) -> None:
    job_id = queue(at, ours)
    order = at.desk.jobs.claim_next(server="here:1", now=_now())
    assert order is not None
    at.desk.people.rename_athlete(ours.athlete_id, "Bo Other", stature_m=1.7)
    report = a_report(a_jump(), content="clip 1")
    result_id = at.desk.jobs.finish(order, report, now=_now())
    clip = at.desk.reviews.find_by_result(result_id or 0)
    assert clip is not None
    assert clip.athlete == "Bo Other"
    assert at.desk.jobs.find(job_id) is not None


@dataclass(frozen=True)
class AnAnalysis:
    """As much of an analysis as its keepers look at."""

    request: Any
    report: Any
    frame_time_s: tuple[float, ...] = (0.0, 0.02)


def work_through(at: Services, order: Order, acts: Acts) -> None:
    """Measure and draw as a worker does."""
    found = measure_order(order, desk=at.desk, files=at.files, measuring=acts.measuring)
    draw_order(order, found, desk=at.desk, files=at.files, measuring=acts.measuring)


class Acts:
    """Measuring during which something happens."""

    def __init__(self, *, during: Callable[[], None] = lambda: None,
                 while_drawing: Callable[[], None] = lambda: None) -> None:  # fmt: skip
        self.during, self.while_drawing = during, while_drawing
        self.drawn = 0
        self.shown: Any = None

    def analyse(
        self, request: Any, *, progress: Callable[[str, float], None] = lambda *_: None
    ) -> Any:
        content = request.path.read_text()
        self.during()
        progress("poses", 0.5)
        return AnAnalysis(request, a_report(a_jump(), content=content))

    def annotate(self, analysis: Any, out_path: Path) -> None:
        self.while_drawing()
        self.shown = analysis
        self.drawn += 1
        out_path.write_bytes(b"drawn")

    def stills(self, _analysis: Any, folder: Path) -> list[Path]:
        (folder / "jump1_landing.jpg").write_bytes(b"picture")
        return [folder / "jump1_landing.jpg"]

    @property
    def measuring(self) -> Measuring:
        return Measuring(self.analyse, self.annotate, self.stills)


def send(at: Services, team: Team, tmp_path: Path) -> Order:
    """Keep and queue a clip, and take it as a worker does."""
    path = tmp_path / "clip.mp4"
    path.write_text("clip 1")
    sha256 = at.files.keep_clip(path)
    upload = Upload(team.athlete_id, sha256, "a.mp4", ".mp4", "vertical")
    at.desk.jobs.submit(upload, now=_now())
    order = at.desk.jobs.claim_next(server="here:1", now=_now())
    assert order is not None
    return order


def test_number_and_pictures_are_kept_in_any_store(
    at: Services, ours: Team, tmp_path: Path
) -> None:
    at.files = ClipFiles(open_store("memory://films"))
    order = send(at, ours, tmp_path)
    work_through(at, order, Acts())
    job = at.desk.jobs.find(order.job_id)
    assert job is not None
    assert job.status == "done"
    assert at.files.list_stills(order.clip_sha256) == ["jump1_landing.jpg"]
    assert at.files.frame_times(order.clip_sha256) == [0, 0.02]
    assert at.files.find_annotated(order.clip_sha256) is not None
    old = tmp_path / "run.png"
    old.write_bytes(b"of an earlier result")
    at.files.keep_stills(order.clip_sha256, [old])
    at.desk.jobs.measure_again(order.job_id, exercise="vertical")
    again = at.desk.jobs.claim_next(server="here:1", now=_now())
    assert again is not None
    measure_order(again, desk=at.desk, files=at.files, measuring=Acts().measuring)
    assert at.files.find_annotated(order.clip_sha256) is None  # it shows what was seen before
    assert at.files.list_stills(order.clip_sha256) == []
    at.files.delete(order.clip_sha256)
    assert at.files.list_stills(order.clip_sha256) == []
    assert at.files.find_clip(order.clip_sha256) is None


def test_a_missing_film_shows_the_kept_numbers_and_events_set_by_hand(
    at: Services, ours: Team, tmp_path: Path
) -> None:
    order = send(at, ours, tmp_path)
    work_through(at, order, Acts())
    clip = at.desk.reviews.list_clips([ours.athlete_id])[0]
    landing_s = clip.report["jumps"][0]["landing_s"] - 0.01
    move = EventMove("landing", 1, Instant(landing_s, 0.002))
    clip = at.desk.reviews.move_event(clip, move, why="seen", by_name="Ada", now=_now())
    at.files.forget_drawing(order.clip_sha256)
    assert at.files.find_annotated(order.clip_sha256) is None
    acts = Acts()
    again = at.desk.jobs.order_drawing(clip.clip_id)
    assert again is not None
    redraw_order(again, clip.report, desk=at.desk, files=at.files, measuring=acts.measuring)
    assert at.files.find_annotated(order.clip_sha256) is not None
    assert acts.shown is not None
    assert acts.shown.report.jumps[0].landing_s == landing_s
    at.files.forget_drawing(order.clip_sha256)
    other_clock = {**clip.report, "time_base": {"file_s_per_s": 8.0}}
    redraw_order(again, other_clock, desk=at.desk, files=at.files, measuring=acts.measuring)
    assert at.files.find_annotated(order.clip_sha256) is None
    assert len(at.desk.reviews.list_clips([ours.athlete_id])) == 1


def test_stopping_takes_no_longer_than_the_next_news(
    at: Services, ours: Team, tmp_path: Path
) -> None:
    at.desk.people.keep_body(ours.athlete_id, stature_m=1.7, mass_kg=61.0)
    order = send(at, ours, tmp_path)
    assert request_of(order, tmp_path, tmp_path).mass_kg == 61.0  # the force of a run wants it
    acts = Acts(during=lambda: at.desk.jobs.cancel(order.job_id, now=_now()))
    work_through(at, order, acts)
    job = at.desk.jobs.find(order.job_id)
    assert job is not None
    assert job.status == "cancelled"
    assert at.desk.reviews.list_clips([ours.athlete_id]) == []
    assert at.files.has_clip(order.clip_sha256)


@pytest.mark.parametrize("moment", ["during", "while_drawing"])
def test_nothing_of_an_athlete_deleted_meanwhile_is_left(
    moment: str, at: Services, ours: Team, tmp_path: Path, data_folder: Path
) -> None:
    order = send(at, ours, tmp_path)
    acts = Acts(**{moment: lambda: delete_everything(at, ours.athlete_id)})
    work_through(at, order, acts)
    assert at.desk.people.list_athletes(ours.coach) == []
    assert [path for path in (data_folder / "store").rglob("*") if path.is_file()] == []


def test_what_cannot_be_measured_says_what_to_do(
    at: Services, ours: Team, tmp_path: Path
) -> None:
    def refuse() -> None:
        raise NothingToMeasure(f"{order.clip_sha256} shows nobody.", "Film the whole body.")

    order = send(at, ours, tmp_path)
    work_through(at, order, Acts(during=refuse))
    job = at.desk.jobs.find(order.job_id)
    assert job is not None
    assert (job.status, job.hint) == ("refused", "Film the whole body.")
    assert job.message == "The file shows nobody."


def test_a_clip_that_is_not_in_the_store_tells_no_place(
    at: Services, ours: Team, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order = send(at, ours, tmp_path)
    at.files.delete(order.clip_sha256)
    work_through(at, order, Acts())
    job = at.desk.jobs.find(order.job_id)
    assert job is not None
    assert job.status == "refused"
    assert str(tmp_path) not in f"{job.message} {job.hint}"
    assert str(tmp_path) in capsys.readouterr().err


def _now() -> datetime:
    return datetime.now(UTC)
