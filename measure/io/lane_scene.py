"""The lane as it fits one clip, and what moves along it: the look before anybody is followed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.io.lane_watch import watch_lane
from measure.io.motion import MotionMap, read_motion
from measure.io.read import Clip

__all__ = ["LaneScene", "look_at_lane"]

MOVED_A_LITTLE = "the camera moved a little; every picture was laid over the first"


@dataclass(frozen=True, slots=True)
class LaneScene:
    """The lane as it fits this clip, and what moves along it."""

    lane: Lane
    motion: MotionMap
    remarks: tuple[str, ...]
    """What the report says about the picture."""


def look_at_lane(
    clip: Clip, lane: Lane, *, time_base: TimeBase, known: MotionMap | None,
    told: Callable[[float], None],
) -> LaneScene | Refused:  # fmt: skip
    """Map what moves along a lane, fitted again where the phone was nudged.

    Parameters
    ----------
    clip : Clip
    lane : Lane
        As it was marked.
    time_base : TimeBase
    known : MotionMap or None
        The map of this very lane on this clock, where it was made already.
    told : callable
        Told the part that is done, 0 to 1.

    Returns
    -------
    LaneScene or Refused
        Refused where the camera or the phone moved too far for the lane to be kept.
    """
    motion = known or read_motion(clip, lane, time_base=time_base, progress=told)
    if isinstance(motion, Refused):
        return motion
    watch = watch_lane(motion.still_rgb, lane)
    if isinstance(watch, Refused):
        return watch
    remarks = () if motion.camera_still else (MOVED_A_LITTLE,)
    if watch.lane is lane:
        return LaneScene(lane, motion, remarks)
    again = read_motion(clip, watch.lane, time_base=time_base, progress=told)
    if isinstance(again, Refused):
        return again
    nudged = f"the phone stands {watch.moved_px:.0f} px off; the lane was fitted to its cones again"
    return LaneScene(watch.lane, again, (*remarks, nudged))
