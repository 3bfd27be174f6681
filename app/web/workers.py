"""The workers of this machine: they take clips from the queue, one each at a time.

A worker whose clip was cancelled is ended and replaced; one that dies has its clip tried once
more. What was under way when the server stopped is queued again when it starts.
"""

from __future__ import annotations

import multiprocessing
import sys
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from types import ModuleType

from app.errors import HistoryFailed
from app.history.clip_jobs import ClipJobs, Order
from app.web.worker import serve_orders

LOOK_EVERY_S = 0.25
WORKER_COUNT = 2


class Workers:
    """Starts and minds the processes that measure.

    Parameters
    ----------
    jobs : ClipJobs
    url : str
        Address of the history, for the workers.
    clips_folder : Path
    count : int
        How many clips are measured at once.
    target : callable
        What a worker process runs.
    """

    def __init__(
        self, jobs: ClipJobs, *, url: str, clips_folder: Path, count: int = WORKER_COUNT,
        target: Callable[[Connection, str, str], None] = serve_orders,
    ) -> None:  # fmt: skip
        self._jobs, self._place = jobs, (url, str(clips_folder))
        self._count, self._target = count, target
        self._stop, self._news = threading.Event(), threading.Event()
        self._threads: list[threading.Thread] = []

    def start(self) -> None:
        """Begin to take clips."""
        self._jobs.put_back_interrupted()
        for number in range(self._count):
            thread = threading.Thread(target=self._mind, name=f"worker {number}", daemon=True)
            thread.start()
            self._threads.append(thread)

    def wake(self) -> None:
        """Say that a clip is waiting."""
        self._news.set()

    def stop(self) -> None:
        """End every worker; what is under way goes on at the next start."""
        self._stop.set()
        self._news.set()
        for thread in self._threads:
            thread.join(timeout=10)

    def _mind(self) -> None:
        worker = _Worker(self._target, self._place)
        try:
            while not self._stop.is_set():
                order = self._next()
                if order is None:
                    self._news.wait(LOOK_EVERY_S * 4)
                    self._news.clear()
                    continue
                worker = self._serve(worker, order)
        finally:
            worker.end()

    def _next(self) -> Order | None:
        try:
            return self._jobs.claim_next()
        except HistoryFailed:  # the database is away; it is asked again soon
            return None

    def _serve(self, worker: _Worker, order: Order) -> _Worker:
        """Wait for one order; give the worker to go on with."""
        worker.take(order)
        while not self._stop.is_set():
            if worker.is_done(LOOK_EVERY_S):
                return worker
            if worker.is_dead():
                self._jobs.report_crash(order.job_id, now=datetime.now(UTC))
                return worker.replaced()
            if self._was_stopped(order.job_id):
                return worker.replaced()
        return worker

    def _was_stopped(self, job_id: int) -> bool:
        try:
            job = self._jobs.find(job_id)
        except HistoryFailed:
            return False
        return job is None or job.status == "cancelled"


class _Worker:
    """One process and the pipe to it."""

    def __init__(
        self, target: Callable[[Connection, str, str], None], place: tuple[str, str]
    ) -> None:
        self._made_of = target, place
        ours, theirs = multiprocessing.get_context("spawn").Pipe()
        self._pipe = ours
        self._process: SpawnProcess = multiprocessing.get_context("spawn").Process(
            target=target, args=(theirs, *place), daemon=True
        )
        _start_apart(self._process)
        theirs.close()

    def take(self, order: Order) -> None:
        try:
            self._pipe.send(order)
        except OSError:
            self._process.kill()

    def is_done(self, wait_s: float) -> bool:
        try:
            if self._pipe.poll(wait_s):
                self._pipe.recv()
                return True
        except (EOFError, OSError):
            self._process.join(1.0)
        return False

    def is_dead(self) -> bool:
        return not self._process.is_alive()

    def replaced(self) -> _Worker:
        self.end()
        return _Worker(*self._made_of)

    def end(self) -> None:
        self._process.kill()
        self._process.join(5.0)
        self._pipe.close()


def _start_apart(process: SpawnProcess) -> None:
    """Start a process that does not run this one's main module again.

    A page that is being shown stands in as the main module; a worker must not show it.
    """
    main = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        process.start()
    finally:
        sys.modules["__main__"] = main
