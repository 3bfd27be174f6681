"""A scheduler with workers on this machine's cores, as a process of its own.

``python -m app.jobs.local_cluster COUNT`` prints the scheduler's address with the key to it, and
serves until its standard input ends, so that it never outlives whoever started it. It is no part
of the pages' process: a worker of the ``multiprocessing`` kind runs its parent's main module, and
that, under Streamlit, is whatever page somebody looks at.

A scheduler runs what it is sent, and other users of this machine reach its port. So it speaks TLS
only, with a certificate made for this one cluster, whose key goes through the pipe to whoever
started it and nowhere else.
"""

from __future__ import annotations

import json
import logging
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from distributed.security import Security

from app.errors import JobsFailed
from app.jobs.tasks import ONE_THREAD

SETTINGS = {
    "distributed.nanny.pre-spawn-environ": ONE_THREAD,
    "distributed.scheduler.allowed-failures": 0,  # a second try is counted in the database
    "distributed.worker.daemon": True,
    "distributed.worker.resources": {"clip": 1},
    "distributed.admin.system-monitor.gil.enabled": False,
    # Pages about the work under way, which anybody could read.
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
}
KEYS = ("tls_ca_file", "tls_client_cert", "tls_client_key")
ENDS_WITHIN_S = 10


@contextmanager
def open_local_cluster(count: int) -> Iterator[tuple[str, Security]]:
    """Give a scheduler with workers on this machine while the context lasts.

    Yields
    ------
    tuple of (str, Security)
        Its address, and what a client needs to be let in.

    Raises
    ------
    JobsFailed
        It did not start.
    """
    call = [sys.executable, "-m", "app.jobs.local_cluster", str(count)]
    pipe = subprocess.PIPE
    with subprocess.Popen(call, stdin=pipe, stdout=pipe, text=True) as process:
        try:
            assert process.stdout is not None
            told = process.stdout.readline()
            if not told:
                raise JobsFailed("The workers did not start.", "See what is said above.")
            way: dict[str, Any] = json.loads(told)
            yield way.pop("address"), Security(require_encryption=True, **way)
        finally:
            assert process.stdin is not None
            process.stdin.close()
            try:
                process.wait(ENDS_WITHIN_S)
            except subprocess.TimeoutExpired:
                process.kill()


def main() -> None:
    """Serve until standard input ends."""
    import dask
    from distributed import LocalCluster

    with dask.config.set(SETTINGS), LocalCluster(
        n_workers=int(sys.argv[1]), threads_per_worker=1, processes=True, host="127.0.0.1",
        dashboard_address="127.0.0.1:0", worker_dashboard_address="127.0.0.1:0",
        silence_logs=logging.CRITICAL, security=True,
    ) as cluster:  # fmt: skip
        way = {key: getattr(cluster.security, key) for key in KEYS}
        print(json.dumps({"address": cluster.scheduler_address, **way}), flush=True)
        sys.stdin.read()


if __name__ == "__main__":
    main()
