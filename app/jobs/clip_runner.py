"""Uploaded clips from the queue to the workers: claimed, watched, stopped, tried once more.

The queue is in the database, so that a restart loses none and several servers share one. The
workers are a Dask cluster: this machine's cores unless a scheduler's address is given.
"""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from distributed import Client, Future, WorkerPlugin

from app.clip_files import ClipFiles
from app.errors import HistoryFailed, JobsFailed, StoreFailed
from app.history.clip_orders import Order
from app.history.desk import Desk
from app.jobs.clip_work import Place, clear_ownerless, measure_upload
from app.jobs.drawings import Drawings, say_fault
from app.jobs.local_cluster import open_local_cluster
from measure.errors import FlightmarkError

WORKER_COUNT = 2
CONNECT_WITHIN_S = 10
LOOK_EVERY_S = 0.25
REST_S = 1.0
"""How long an idle runner waits before it looks for clips that another server took in."""
BEAT_EVERY_S = 5.0
LOST_AFTER = timedelta(seconds=60)
GRACE_S = 5.0
"""A worker that does not notice within this time that its clip was stopped is started anew."""


class KeepWarm(WorkerPlugin):
    """Imports in every worker what takes a second to import, before a clip comes."""

    name = "flightmark-warm"

    def setup(self, worker: Any) -> None:
        """Import it beside the worker's own business."""
        threading.Thread(target=_import_measuring, daemon=True).start()


def _import_measuring() -> None:
    import measure.analyse
    import measure.analyse_jumps  # noqa: F401


@dataclass
class _Run:
    """A clip on a worker."""

    order: Order
    future: Future
    unwanted_since_s: float | None = None


@dataclass
class ClipRunner:
    """Has waiting clips measured for as long as it runs."""

    desk: Desk
    files: ClipFiles
    place: Place
    scheduler: str | None = None
    """Address of a running scheduler; this machine's cores where None."""
    count: int = WORKER_COUNT
    """Workers on this machine."""
    work: Callable[[Order, Place], Any] = measure_upload
    """What a worker does with a clip; importable by name."""
    drawings: Drawings | None = None
    grace_s: float = GRACE_S
    server: str = field(default_factory=lambda: f"{socket.gethostname()}:{os.getpid()}")

    def __post_init__(self) -> None:
        self._stop, self._news = threading.Event(), threading.Event()
        self._runs: list[_Run] = []
        self._died: list[Order] = []
        self._drawings = self.drawings or Drawings(self.files, self.place)
        self._resources = {"clip": 1} if self.scheduler is None else None
        self._beat_at_s = 0.0
        self._restarts = ThreadPoolExecutor(1, thread_name_prefix="restarts")
        self._thread = threading.Thread(target=self._mind, name="clip runner", daemon=True)

    def start(self) -> None:
        """Begin to take clips; those of servers of this machine that are gone come first."""
        gone = [each for each in self.desk.jobs.list_servers() if self._is_gone(each)]
        self._put_back_lost(gone)
        self._thread.start()

    def wake(self) -> None:
        """Say that something is to be looked at."""
        self._news.set()

    def have_drawn(self, order: Order, report: dict[str, Any]) -> bool:
        """Have a measured clip drawn that isn't, with the numbers that are kept of it.

        Returns
        -------
        bool
            Whether a drawing is to come; False where one was tried in vain.
        """
        if any(run.order.clip_sha256 == order.clip_sha256 for run in list(self._runs)):
            return True
        is_coming = self._drawings.ask(order, report)
        self._news.set()
        return is_coming

    def stop(self) -> None:
        """End; what is under way is measured by whoever comes next."""
        self._stop.set()
        self._news.set()
        self._thread.join(timeout=20)
        self._restarts.shutdown(wait=False)

    def _mind(self) -> None:
        while not self._stop.is_set():
            try:
                with self._client() as client:
                    self._serve(client)
            except JobsFailed as error:
                print(f"flightmark: {error}", file=sys.stderr)
            finally:
                self._let_go()
            self._stop.wait(REST_S)

    @contextlib.contextmanager
    def _client(self) -> Iterator[Client]:
        with contextlib.ExitStack() as stack:
            address, security = self.scheduler, None
            if address is None:
                address, security = stack.enter_context(open_local_cluster(self.count))
            how: dict[str, Any] = {"timeout": CONNECT_WITHIN_S, "set_as_default": False}
            try:
                client = stack.enter_context(Client(address, security=security, **how))
                if self.work is measure_upload:
                    client.register_plugin(KeepWarm())
            except (TimeoutError, OSError) as error:
                raise JobsFailed(
                    f"No scheduler answers at {address}.", "Start it; it is tried again."
                ) from error
            yield client

    def _serve(self, client: Client) -> None:
        while not self._stop.is_set():
            if client.status != "running":
                raise JobsFailed("The workers are gone.", "They are started anew.")
            try:
                self._look(client)
            except (HistoryFailed, StoreFailed):  # it is away, and asked again soon
                self._stop.wait(REST_S)
            self._news.wait(LOOK_EVERY_S if self._runs else REST_S)
            self._news.clear()

    def _look(self, client: Client) -> None:
        self._collect()
        while self._died:
            self.desk.jobs.report_crash(self._died[0], now=_now())
            self._died.pop(0)
        self._beat()
        self._stop_unwanted(client)
        while len(self._runs) < _most_at_once(client) and self._submit(client):
            pass
        self._drawings.hand_out(client, resources=self._resources)

    def _submit(self, client: Client) -> bool:
        order = self.desk.jobs.claim_next(server=self.server, now=_now())
        if order is None:
            return False
        future = client.submit(
            self.work, order, self.place, key=f"clip-{order.claim}", pure=False,
            resources=self._resources,
        )  # fmt: skip
        future.add_done_callback(lambda _future: self._news.set())
        self._runs.append(_Run(order, future))
        return True

    def _collect(self) -> None:
        """Forget clips that came to their end; a worker that died with one is told."""
        ended = [run for run in self._runs if run.future.done()]
        for run in ended:
            if run.future.status == "error":
                say_fault(run.future)
                self._died.append(run.order)
            elif run.future.status == "finished":
                self._drawings.add(run.order, run.future)
            self._runs.remove(run)

    def _beat(self) -> None:
        if time.monotonic() - self._beat_at_s > BEAT_EVERY_S:
            self.desk.jobs.beat(self.server, now=_now())
            self._put_back_lost([])
            self._beat_at_s = time.monotonic()

    def _stop_unwanted(self, client: Client) -> None:
        if not self._runs:
            return
        unwanted = self.desk.jobs.list_unwanted([run.order.claim for run in self._runs])
        for run in [run for run in self._runs if run.order.claim in unwanted]:
            run.unwanted_since_s = run.unwanted_since_s or time.monotonic()
            if time.monotonic() - run.unwanted_since_s >= self.grace_s:
                self._runs.remove(run)
                self._restarts.submit(self._restart, client, run)

    def _restart(self, client: Client, run: _Run) -> None:
        """Start the worker of a clip anew that does not listen."""
        with contextlib.suppress(FlightmarkError, OSError, TimeoutError, RuntimeError, KeyError):
            keys = {run.future.key}
            where = [each for each, those in client.processing().items() if keys & set(those)]
            client.cancel([run.future], force=True)
            client.restart_workers(where, timeout=30, raise_for_error=False)
            clear_ownerless(run.order, desk=self.desk, files=self.files)

    def _let_go(self) -> None:
        """Leave to others what this server has not finished."""
        self._runs.clear()
        self._drawings.forget()
        with contextlib.suppress(HistoryFailed):
            self.desk.jobs.let_go(self.server)

    def _put_back_lost(self, gone: list[str]) -> None:
        now = _now()
        self.desk.jobs.put_back_lost(before=now - LOST_AFTER, now=now, servers=gone)

    def _is_gone(self, server: str) -> bool:
        """Tell whether a server of this machine runs no more; of others only time tells."""
        host, _, number = server.rpartition(":")
        if host != self.server.rpartition(":")[0] or not number.isdigit():
            return False
        return server == self.server or not _is_alive(int(number))


def _most_at_once(client: Client) -> int:
    workers = client.scheduler_info(n_workers=-1)["workers"]
    return sum(each["nthreads"] for each in workers.values())


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        pass
    return True


def _now() -> datetime:
    return datetime.now(UTC)
