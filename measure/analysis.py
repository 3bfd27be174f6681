"""A report together with what pictures of it need."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from measure.io.look import CameraPath
from measure.report import Report
from measure.request import ClipRequest
from measure.types import Flight, Floats, PoseTrack

if TYPE_CHECKING:
    from measure.io.sprint_run import SprintOutcome  # slow to import, and no jump needs it

__all__ = ["Analysis"]


@dataclass(frozen=True)
class Analysis:
    """A report and what pictures of it need."""

    request: ClipRequest
    report: Report
    track: PoseTrack | None
    """Cleaned, in the pixels of the first picture; None for a run in which nobody was seen."""
    time_s: Floats
    """Real time of the track's rows; file time where the clock is refused."""
    frame_time_s: Floats
    """Real time of every frame, shape (N,)."""
    flights: tuple[Flight, ...] = ()
    """The report's jumps, in order."""
    camera: CameraPath | None = None
    run: SprintOutcome | None = None
    """Of a run along a lane."""
