"""One clip as work for another process: what goes there and what comes back.

Nothing here knows the scheduler; a worker imports this module by name.
"""

from __future__ import annotations

import os
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.requests import request_from_json
from measure.errors import FlightmarkError, NothingToMeasure, UnreadableClip

ONE_THREAD = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "OPENCV_FOR_THREADS_NUM": "1",
}
"""Each worker has one core; libraries that start more threads only get in each other's way."""


@dataclass(frozen=True)
class ClipTask:
    """One clip to measure."""

    clip_name: str
    clip_sha256: str
    request: dict[str, Any]
    """As ``request_as_json`` gives it."""
    path: Path | None = None
    """Where the clip lies, the same for every worker …"""
    store: str | None = None
    """… or the store that holds it."""


@dataclass(frozen=True)
class Outcome:
    """What came of a task: a report, a refusal, or a fault of the program."""

    report: dict[str, Any] | None = None
    track_sha256: str | None = None
    refusal: str | None = None
    """Why the clip gives no number at all."""
    is_unreadable: bool = False
    fault: str | None = None
    """What broke that should not have."""

    @property
    def is_measured(self) -> bool:
        """Whether there is a number."""
        report = self.report or {}
        return bool(report.get("jumps")) or "sprint" in report


def measure_task(task: ClipTask, analyse: Callable[..., Any]) -> Outcome:
    """Measure one clip; whatever is wrong with it comes back as an outcome.

    Parameters
    ----------
    task : ClipTask
    analyse : callable
        As ``measure.analyse.analyse_clip``.
    """
    for name, value in ONE_THREAD.items():
        os.environ.setdefault(name, value)
    try:
        with tempfile.TemporaryDirectory(prefix="flightmark-") as folder, _clip(task) as path:
            request = request_from_json(task.request, path=path, folder=Path(folder))
            analysis = analyse(request, progress=lambda _step, _part: None)
        return _measured(analysis, task)
    except (UnreadableClip, NothingToMeasure) as error:
        return Outcome(refusal=str(error), is_unreadable=isinstance(error, UnreadableClip))
    except FlightmarkError as error:
        return Outcome(fault=str(error))
    except Exception:
        return Outcome(fault=traceback.format_exc())


@contextmanager
def _clip(task: ClipTask) -> Iterator[Path]:
    if task.path is not None:
        yield task.path
        return
    from app.store import open_store

    with open_store(task.store).local_path(task.clip_sha256) as path:
        yield path


def _measured(analysis: Any, task: ClipTask) -> Outcome:
    from measure.report import as_json

    report = as_json(analysis.report)
    if report["clip"]["sha256"] != task.clip_sha256:
        return Outcome(fault="The clip was changed while it was measured.")
    track = getattr(analysis, "track", None)
    if task.store is None or track is None:
        return Outcome(report)
    from app.store import open_store, track_as_bytes

    return Outcome(report, open_store(task.store).keep_bytes(track_as_bytes(track), kind="tracks"))
