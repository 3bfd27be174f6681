"""The workers of this machine: they take clips from the queue, one each at a time.

A worker whose clip was cancelled is ended and replaced; one that dies has its clip tried once
more. What was under way when the server stopped is queued again when it starts.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import os
import queue
import subprocess
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path

from app.errors import HistoryFailed
from app.history.clip_jobs import ClipJobs, Order

LOOK_EVERY_S = 0.25
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
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
    target : str
        What a worker process runs, as ``module:function``.
    """

    def __init__(
        self, jobs: ClipJobs, *, url: str, clips_folder: Path, count: int = WORKER_COUNT,
        target: str = "app.web.worker:serve_orders",
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
    """One process and the lines to it."""

    def __init__(self, target: str, place: tuple[str, str]) -> None:
        self._made_of = target, place
        module, _, name = target.partition(":")
        call = (
            f"import sys; from app.web.worker import Orders; from {module} import {name}; "
            f"{name}(Orders(), *sys.argv[1:])"
        )
        self._process = subprocess.Popen(
            [sys.executable, "-c", call, *place],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8",
            env={**os.environ, **ONE_THREAD},
        )  # fmt: skip
        self._answers: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._answers.put(line)

    def take(self, order: Order) -> None:
        assert self._process.stdin is not None
        try:
            self._process.stdin.write(json.dumps(dataclasses.asdict(order)) + "\n")
            self._process.stdin.flush()
        except OSError:
            self._process.kill()

    def is_done(self, wait_s: float) -> bool:
        try:
            self._answers.get(timeout=wait_s)
        except queue.Empty:
            return False
        return True

    def is_dead(self) -> bool:
        return self._process.poll() is not None

    def replaced(self) -> _Worker:
        self.end()
        return _Worker(*self._made_of)

    def end(self) -> None:
        self._process.kill()
        self._process.wait(5.0)
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
