"""What a command takes: time, processor time and memory of it and of all that it starts."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass

import psutil

FIRST_LOOK_S, LOOK_EVERY_S = 0.05, 0.25
"""Each look at the memory holds the process up for a moment."""


@dataclass(frozen=True)
class Usage:
    """What one run of a command took."""

    wall_s: float
    cpu_s: float
    """Of the process and of all that it started and waited for."""
    peak_mb: float
    """Largest memory of all these processes together, looked at four times a second. A page that
    several of them share counts once where the system tells, as Linux does."""
    printed: str
    """What it wrote to standard output."""


def run_measured(command: Sequence[str], *, allowed: Sequence[int] = (0,)) -> Usage:
    """Run a command to its end.

    Parameters
    ----------
    command : sequence of str
    allowed : sequence of int
        Exit codes that count as done.

    Raises
    ------
    RuntimeError
        It failed; with the end of what it wrote to standard error.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as errors:
        started_s = time.perf_counter()
        child = subprocess.Popen(command, stdout=out, stderr=errors)
        peak = _PeakMemory(child.pid)
        _, status, spent = os.wait4(child.pid, 0)
        wall_s = time.perf_counter() - started_s
        peak.stop()
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode not in allowed:
            errors.seek(0)
            tail = errors.read().decode(errors="replace")[-2000:]
            raise RuntimeError(f"{' '.join(command)} ended with {child.returncode}: {tail}")
        out.seek(0)
        return Usage(
            wall_s, spent.ru_utime + spent.ru_stime, peak.mb, out.read().decode(),
        )  # fmt: skip


def python(*arguments: str) -> list[str]:
    """Command that runs this interpreter."""
    return [sys.executable, *arguments]


class _PeakMemory:
    """Looks at a process and its descendants until it is stopped."""

    def __init__(self, pid: int) -> None:
        self.mb = 0.0
        self._root = psutil.Process(pid)
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop looking."""
        self._done.set()
        self._thread.join()

    def _look(self) -> None:
        pause_s = FIRST_LOOK_S
        while not self._done.wait(pause_s):
            pause_s = LOOK_EVERY_S
            try:
                all_of_them = [self._root, *self._root.children(recursive=True)]
            except psutil.Error:
                return
            self.mb = max(self.mb, sum(map(_resident_mb, all_of_them)))


def _resident_mb(process: psutil.Process) -> float:
    try:
        memory = process.memory_full_info()
        return float(getattr(memory, "pss", memory.rss)) / 2**20
    except psutil.Error:
        return 0.0
