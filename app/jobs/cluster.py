"""Workers to run tasks on: this machine's cores, or a cluster by its scheduler's address."""

from __future__ import annotations

import asyncio
import gc
import logging
import queue
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import dask
from distributed import Client, Future, KilledWorker, LocalCluster

from app.errors import JobsFailed
from app.jobs.tasks import ONE_THREAD, ClipTask, Outcome, measure_task
from measure.report import Versions

CONNECT_WITHIN_S = 10
AHEAD = 2
"""Tasks that wait at each worker, so that none is idle while the next one is prepared."""
LOOK_EVERY_S = 0.5
WITHOUT_WORKERS_S = 300.0
"""Killed workers are started again by whoever watches them; for longer nobody waits in silence."""
GONE = (TimeoutError, asyncio.CancelledError, OSError, RuntimeError)
"""What the library raises where nobody answers any more."""
SETTINGS = {
    "distributed.comm.timeouts.connect": f"{CONNECT_WITHIN_S}s",
    "distributed.nanny.pre-spawn-environ": ONE_THREAD,
    "distributed.scheduler.allowed-failures": 1,
    "distributed.worker.daemon": True,
    "distributed.admin.system-monitor.gil.enabled": False,
}


class Workers:
    """Runs tasks on a cluster that is open.

    Parameters
    ----------
    client : Client
    """

    def __init__(self, client: Client) -> None:
        self._client = client
        self._seen_working = time.monotonic()

    def versions(self, ask: Callable[[], Versions]) -> Versions:
        """Give what measures on the workers.

        Raises
        ------
        JobsFailed
            There is no worker, or they are not alike.
        """
        with _told():
            self._client.wait_for_workers(1, timeout=CONNECT_WITHIN_S)
            found = set(self._client.run(ask).values())
        if len(found) != 1:
            raise JobsFailed(
                f"The workers measure with {len(found)} different versions.",
                "Install the same flightmark on all of them.",
            )
        return found.pop()

    def run(
        self, tasks: Iterator[tuple[Any, ClipTask]], *, analyse: Callable[..., Any]
    ) -> Iterator[tuple[Any, Outcome]]:
        """Run tasks as they come and give each outcome as soon as it is there.

        Parameters
        ----------
        tasks : iterator of (label, ClipTask)
            Asked for the next one only when a worker will soon be free.
        analyse : callable
            Importable by name on the workers.

        Yields
        ------
        tuple of (label, Outcome)

        Raises
        ------
        JobsFailed
            The scheduler is gone. Outcomes that were given stay good; the rest is to be run again.
        """
        suspects: list[tuple[Any, ClipTask]] = []
        for label, task, outcome in self._run(tasks, analyse):
            if outcome is None:
                suspects.append((label, task))
            else:
                yield label, outcome
        # Whatever lies on a worker when it dies is blamed; alone, only the guilty one is.
        for suspect in suspects:
            for label, _, outcome in self._run(iter([suspect]), analyse):
                yield label, outcome or Outcome(fault="Measuring it ends the worker process.")

    def _run(
        self, tasks: Iterator[tuple[Any, ClipTask]], analyse: Callable[..., Any]
    ) -> Iterator[tuple[Any, ClipTask, Outcome | None]]:
        done: queue.SimpleQueue[Future] = queue.SimpleQueue()
        running: dict[Future, tuple[Any, ClipTask]] = {}
        is_more = True
        self._seen_working = time.monotonic()
        while is_more or running:
            while is_more and len(running) < self._most_at_once():
                label, task = next(tasks, (None, None))
                is_more = task is not None
                if task is not None:
                    with _told():
                        future = self._client.submit(measure_task, task, analyse, pure=False)
                    running[future] = (label, task)
                    future.add_done_callback(done.put)
            future = self._next(done) if running else None
            if future is not None:
                yield *running.pop(future), self._outcome(future)

    def _most_at_once(self) -> int:
        return max(1, sum(self._list_threads())) * AHEAD

    def _list_threads(self) -> list[int]:
        """Give each worker's number of threads."""
        try:
            workers = self._client.scheduler_info(n_workers=-1)["workers"]
        except GONE as error:
            raise _lost() from error
        return [each["nthreads"] for each in workers.values()]

    def _next(self, done: queue.SimpleQueue[Future]) -> Future | None:
        try:
            return done.get(timeout=LOOK_EVERY_S)
        except queue.Empty:
            if self._client.status != "running":
                raise _lost() from None
            self._check_somebody_works()
            return None

    def _check_somebody_works(self) -> None:
        now = time.monotonic()
        if self._list_threads():
            self._seen_working = now
        elif now - self._seen_working > WITHOUT_WORKERS_S:
            raise JobsFailed(
                "No worker is connected to the scheduler any more.",
                "What was measured is saved; start workers and call again to go on.",
            )

    def _outcome(self, future: Future) -> Outcome | None:
        """Give what a task gave; None where its worker died with it."""
        if future.status == "finished":
            with _told():
                outcome: Outcome = future.result()
            return outcome
        if future.status != "error":
            raise _lost()
        if isinstance(future.exception(), KilledWorker):
            return None
        return Outcome(fault=f"The worker could not run it ({future.exception()}).")


@contextmanager
def open_workers(scheduler: str | None = None, *, count: int | None = None) -> Iterator[Workers]:
    """Open workers for as long as the context lasts.

    Parameters
    ----------
    scheduler : str, optional
        Address of a running scheduler, such as ``tcp://10.0.0.5:8786``; this machine's cores
        where None.
    count : int, optional
        Workers on this machine; as many as it has cores where None.

    Raises
    ------
    JobsFailed
        Nobody answers at the address.
    """
    # A client that could not connect closes itself when it is collected: were that while another
    # starts, both would wait for one lock for ever.
    gc.collect()
    with dask.config.set(SETTINGS), _quiet():
        if scheduler is not None:
            with _connect(scheduler) as client:
                yield Workers(client)
            return
        with LocalCluster(
            n_workers=count, threads_per_worker=1, processes=True, host="127.0.0.1",
            dashboard_address="127.0.0.1:0", worker_dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL, security=True,  # other users reach its port
        ) as cluster, Client(cluster) as client:  # fmt: skip
            yield Workers(client)


def _connect(scheduler: str) -> Client:
    with _told():
        try:
            return Client(scheduler, timeout=CONNECT_WITHIN_S)
        except ValueError as error:  # no address at all
            raise OSError(str(error)) from error


def _lost() -> JobsFailed:
    return JobsFailed(
        "The scheduler of the workers is gone.",
        "What was measured is saved; call again to go on.",
    )


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except GONE as error:
        raise JobsFailed(
            f"The workers can't be reached ({str(error).strip() or type(error).__name__}).",
            "Check the scheduler's address and that workers are connected to it.",
        ) from error


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's own lines off the terminal: faults come as ours."""
    log = logging.getLogger("distributed")
    before, log.disabled = log.level, False
    log.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        log.setLevel(before)
