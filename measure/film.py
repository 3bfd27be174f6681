"""What a clip is before anybody in it is looked at: whole, long enough, and its plain facts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from calibration.gravity import STANDARD_GRAVITY_MPS2, gravity_at
from measure.errors import UnreadableClip
from measure.io.read import Clip
from measure.report import ClipFacts
from measure.request import ClipRequest
from measure.types import FEWEST_ROWS, Floats

if TYPE_CHECKING:
    from measure.clock import ClockFacts

__all__ = ["check_film", "check_whole", "clip_facts", "clock_facts", "gravity_of"]

LONGEST_CLIP_S = 300.0
SHORTEST_CLIP_S = 0.4


def gravity_of(request: ClipRequest) -> float:
    """Gravity where the clip was filmed, m/s², the standard one where that is not said."""
    if request.latitude_deg is None:
        return STANDARD_GRAVITY_MPS2
    return gravity_at(latitude_deg=request.latitude_deg)


def check_film(clip: Clip) -> None:
    """Refuse a film that breaks off, is too long or too short, or shows lengths askew.

    Raises
    ------
    UnreadableClip
    """
    check_whole(clip)
    duration_s = float(clip.stamps.file_time_s[-1])
    if duration_s > LONGEST_CLIP_S:
        raise UnreadableClip(
            f"The clip is {duration_s / 60:.1f} minutes long.",
            f"Cut it to the set itself, {LONGEST_CLIP_S / 60:.0f} minutes at most.",
        )
    if clip.stamps.frame_count < FEWEST_ROWS or duration_s < SHORTEST_CLIP_S:
        raise UnreadableClip(
            f"The clip holds only {clip.stamps.frame_count} pictures ({duration_s:.2f} s).",
            "Film from a second before the movement to a second after it.",
        )
    if abs(clip.stream.pixel_aspect - 1) > 0.01:
        raise UnreadableClip(
            "The clip's pixels are not square, so lengths across and upright differ.",
            "Use the video as the phone saved it, not one that was converted.",
        )


def check_whole(clip: Clip) -> None:
    """Refuse a file that breaks off: what is missing may be the landing.

    Raises
    ------
    UnreadableClip
    """
    if clip.ended_early or clip.damaged_count > 0:
        raise UnreadableClip(
            "The clip is damaged or its end is missing.",
            "Copy it from the phone again and wait until the copy is complete.",
        )


def clock_facts(clip: Clip, stamps_file_s: Floats) -> ClockFacts:
    """Put together what the file says about its clock; stamps of shape (N,)."""
    from measure.clock import ClockFacts  # slow to import, and the first look goes without

    return ClockFacts(
        stamps_file_s, clip.stream.capture_rate_tag_hz, clip.stream.playback_intent,
        clip.stream.edit_rate,
    )  # fmt: skip


def clip_facts(clip: Clip, frame_time_s: Floats, distinct: NDArray[np.bool_]) -> ClipFacts:
    """Say what the file is; real time of every frame and which are no repeats, shape (N,)."""
    return ClipFacts(
        sha256=clip.stream.sha256, width_px=clip.stream.width_px, height_px=clip.stream.height_px,
        frame_count=int(frame_time_s.shape[0]),
        duration_s=float(frame_time_s[-1] - frame_time_s[0]),
        rotation_deg=clip.stream.rotation_deg,
        repeated_frame_count=int((~distinct).sum()) + clip.stamps.repeated_stamp_count,
        missing_frame_count=clip.stamps.missing_frame_count,
        recorded_at=clip.stream.recorded_at,
    )  # fmt: skip
