"""What the commands ask of the measuring room, gathered so that a stand-in can take its place."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from measure.io.shelf import Shelf
    from measure.report import Versions

Progress = Callable[[str, float], None]
"""Told the name of the step and the part of it that is done, 0 to 1."""


ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM")
"""Read by libraries when they are first imported. Measuring brings its own threads and processes:
theirs would wait for each other, and a process with idle threads can't be copied."""


@dataclass(frozen=True)
class Measuring:
    """The acts of the measuring room."""

    analyse: Callable[..., Any]
    """Gives the analysis of a ``ClipRequest``; its ``report`` is the Report."""
    annotate: Callable[..., Any]
    """Draws an analysis into a clip at a path."""
    write_stills: Callable[..., list[Path]]
    """Writes an analysis's pictures into a folder."""
    versions: Callable[[], Versions] = field(default_factory=lambda: versions_now)
    """Gives what would measure a clip now."""


def versions_now() -> Versions:
    """Give what would measure a clip on this machine now."""
    from measure.io.pose_landmarks import BundledPose
    from measure.versions import installed_versions

    return installed_versions(BundledPose().name)


def real_measuring(*, processes: int = 1, shelf: Shelf | None = None) -> Measuring:
    """Give the measuring room itself; importing it takes a moment.

    Parameters
    ----------
    processes : int
        How many work on one clip; more than one where clips come one after the other.
    shelf : Shelf, optional
        Keeps what was seen of bodies, so that no clip is looked at twice.
    """
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    from measure.analyse import analyse_clip

    analyse = partial(analyse_clip, processes=processes, shelf=shelf)
    return Measuring(analyse, _annotate, _write_stills)


def free_cores() -> int:
    """Give how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _annotate(analysis: Any, out_path: Path, *, progress: Progress | None = None) -> None:
    from measure.io.annotate import annotate_clip

    annotate_clip(analysis, out_path, progress=progress)


def _write_stills(analysis: Any, folder: Path) -> list[Path]:
    from measure.io.annotate import write_stills

    pictures: list[Path] = write_stills(analysis, folder)
    return pictures
