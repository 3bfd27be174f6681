"""Two hundred clips, and something killed in the middle: nothing is lost, nothing is doubled."""

from __future__ import annotations

import hashlib
import os
import re
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from app.history import ResultRecord, open_history
from app.store import open_store
from app.store.files import KINDS
from measure.report import as_json
from measure.request import ClipRequest
from tests.app import fake_measuring
from tests.app.postgres import PostgresServer, free_port

ROOT = Path(__file__).resolve().parents[2]
CLIP_COUNT = 200
KILL_AFTER = 50
ATHLETES = ("Ada Brandt", "Mika Orlov")
PATIENCE_S = 300


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("clips")
    for number in range(CLIP_COUNT):
        of_athlete = folder / ATHLETES[number % 2]
        of_athlete.mkdir(exist_ok=True)
        (of_athlete / f"{number}.mp4").write_text(f"clip {number}")
    return folder


class Running:
    """A process of ours whose lines can be waited for."""

    def __init__(self, *argv: str, **environment: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", *argv],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
            env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        )  # fmt: skip
        self.lines: list[str] = []

    def wait_for(self, pattern: str) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line)
            if re.search(pattern, line):
                return
        raise AssertionError(f"{pattern} never came:\n{''.join(self.lines)}")

    def finish(self) -> int:
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        self.lines += rest.splitlines(keepends=True)
        return self.process.returncode

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def close(self) -> None:
        if self.process.poll() is None:
            self.kill()
        assert self.process.stdout is not None
        self.process.stdout.close()


@contextmanager
def running(*argv: str, **environment: str) -> Iterator[Running]:
    started = Running(*argv, **environment)
    try:
        yield started
    finally:
        started.close()


class Place:
    """Where a batch saves, and how it is started."""

    def __init__(self, url: str, folder: Path, clips: Path) -> None:
        self.url = url
        self._clips = clips
        self._store = str(folder / "store")
        self._environment = {
            "FLIGHTMARK_DATABASE": url, "FLIGHTMARK_DATA": str(folder), "FAKE_ANALYSIS_S": "0.02",
        }  # fmt: skip

    def batch(self, *options: str) -> object:
        return running(
            "tests.app.run_fake", "batch", str(self._clips), *options, **self._environment
        )

    def worker(self, scheduler: str) -> object:
        return running(
            "distributed.cli.dask_worker", scheduler, "--no-nanny", "--nthreads", "1",
            "--no-dashboard", **self._environment,
        )  # fmt: skip

    def check(self) -> None:
        """Every clip is there once, with the numbers that it gives alone, and its files whole."""
        with open_history(self.url) as history:
            kept = [
                result
                for athlete in ATHLETES
                for result in history.list_results(athlete, superseded=True)
            ]
            jumps = [jump for athlete in ATHLETES for jump in history.list_jumps(athlete)]
            clip_counts = {each.name: each.clip_count for each in history.list_athletes()}
        assert clip_counts == dict.fromkeys(ATHLETES, CLIP_COUNT // 2)
        names = Counter(f"{number}.mp4" for number in range(CLIP_COUNT))
        assert Counter(each.clip_name for each in kept) == names
        assert Counter(each.clip_name for each in jumps) == names
        for each in kept:
            path = self._clips / each.athlete / each.clip_name
            alone = fake_measuring.analyse(ClipRequest(path), progress=lambda *_: None)
            assert each.report == as_json(alone.report)
        self._check_files(kept)

    def _check_files(self, kept: list[ResultRecord]) -> None:
        store = open_store(self._store)
        assert set(store.list_names()) == {each.clip_sha256 for each in kept}
        assert set(store.list_names(kind="tracks")) >= {each.track_sha256 for each in kept}
        for kind in KINDS:
            for name in store.list_names(kind=kind):
                assert hashlib.sha256(store.read_bytes(name, kind=kind)).hexdigest() == name


@pytest.fixture
def place(tmp_path: Path, clips: Path) -> Place:
    return Place(f"sqlite:///{tmp_path / 'history.sqlite'}", tmp_path / "data", clips)


@contextmanager
def a_scheduler(port: int) -> Iterator[Running]:
    with running(
        "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", str(port),
        "--no-dashboard",
    ) as scheduler:  # fmt: skip
        scheduler.wait_for("Scheduler at")
        yield scheduler


def in_the_middle() -> str:
    return rf"^ *{KILL_AFTER}/{CLIP_COUNT} "


def test_a_worker_is_killed(place: Place) -> None:
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    with a_scheduler(port), place.worker(address) as first, place.worker(address) as second:
        first.wait_for("Registered to")
        second.wait_for("Registered to")
        with place.batch("--scheduler", address) as batch:
            batch.wait_for(in_the_middle())
            first.kill()
            code = batch.finish()
        if code == 3:
            # A starved machine may miss the scheduler's heartbeat too; then the batch says so
            # and goes on when called again.
            assert "call again" in batch.lines[-1], batch.lines[-5:]
            with place.batch("--scheduler", address) as again:
                code = again.finish()
        assert code == 0, batch.lines[-5:]
    place.check()


def test_the_scheduler_is_killed(place: Place) -> None:
    address = ""
    for kill, code in ((True, 3), (False, 0)):
        port = free_port()
        address = f"tcp://127.0.0.1:{port}"
        with a_scheduler(port) as scheduler, place.worker(address) as worker:
            worker.wait_for("Registered to")
            with place.batch("--scheduler", address) as batch:
                if kill:
                    batch.wait_for(in_the_middle())
                    scheduler.kill()
                assert batch.finish() == code, batch.lines[-5:]
        if kill:
            assert "What was measured is saved" in "".join(batch.lines)
    assert "in the history already" in batch.lines[-1]
    place.check()


def test_the_writer_is_killed(url: str, tmp_path: Path, clips: Path) -> None:
    place = Place(url, tmp_path / "data", clips)
    with place.batch("--workers", "2") as batch:
        batch.wait_for(in_the_middle())
        children = children_of(batch.process.pid)
        assert len(children) >= 2
        batch.kill()
    wait_until(lambda: not any(is_alive(child) for child in children))
    with place.batch("--workers", "2") as batch:
        assert batch.finish() == 0, batch.lines[-5:]
    counts = re.findall(r"(\d+) (measured|in the history)", batch.lines[-1])
    assert sum(int(count) for count, _ in counts) == CLIP_COUNT
    assert int(dict(map(reversed, counts))["in the history"]) >= KILL_AFTER
    place.check()


def test_the_database_is_killed(tmp_path: Path, clips: Path, own_postgres: PostgresServer) -> None:
    place = Place(own_postgres.new_database(), tmp_path / "data", clips)
    with place.batch("--workers", "2") as batch:
        batch.wait_for(in_the_middle())
        own_postgres.kill()
        assert batch.finish() == 3, batch.lines[-5:]
    assert "could not be read or written" in "".join(batch.lines)
    own_postgres.start()
    with place.batch("--workers", "2") as batch:
        assert batch.finish() == 0, batch.lines[-5:]
    place.check()


def test_a_database_that_comes_back_at_once_is_hardly_noticed(
    tmp_path: Path, clips: Path, own_postgres: PostgresServer
) -> None:
    place = Place(own_postgres.new_database(), tmp_path / "data", clips)
    with place.batch("--workers", "2") as batch:
        batch.wait_for(in_the_middle())
        own_postgres.kill()
        own_postgres.start()
        assert batch.finish() == 0, batch.lines[-5:]
    place.check()


@pytest.fixture(scope="module")
def own_postgres() -> Iterator[PostgresServer]:
    server = PostgresServer()
    yield server
    server.close()


def children_of(pid: int) -> list[int]:
    listed = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [int(word) for word in listed.stdout.split()]


def is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"


def wait_until(is_so: Callable[[], bool]) -> None:
    ends = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < ends
        time.sleep(0.2)
