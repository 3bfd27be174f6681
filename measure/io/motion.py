"""Where along the lane something moves, and when: one decoding of the clip, small and grey."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import Refused, TimeBase
from measure.io.frame import Frame
from measure.io.read import Clip
from measure.io.registration import STILL, CameraMoved, Registration

__all__ = ["MotionMap", "read_motion"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Progress = Callable[[float], None]

MAP_RATE_HZ = 15.0
"""Pictures compared per real second: a runner moves half a metre between two of them."""
SMALL_PX = 640
"""The longer side of the pictures that are compared."""
BIN_M = 0.1
MARGIN_M = 3.0
"""How far beyond the marked lane a runner is looked for."""
LOWEST_M, HIGHEST_M = 0.05, 1.9
LIGHT_CHANGE, LIGHT_PX = 0.01, 61
"""A lamp that flickers changes so much of the light between two pictures; told over so many
columns, of which a runner covers fewer than half."""
NOISE_FACTOR = 7.0
LEAST_CHANGE = 6.0
EDGE_WEIGHT = 0.3
STILL_CAMERA_PX, LOOKS_STILL_PX, MISREAD = 0.25, 1.0, 0.95
"""A camera that moves does so in more than one picture of twenty; few corners are misread there."""
WIDEST_PAN_SHARE = 0.05
"""Of the picture's width: farther, and the lane's ends leave the picture."""
WHOLE_PICTURES = 5
"""Whole pictures kept, in which the cones are looked for."""


@dataclass(frozen=True, slots=True)
class MotionMap:
    """Moving area over time and distance along the runner's line."""

    time_s: Floats
    """Real seconds of the compared pictures, shape (T,)."""
    distance_m: Floats
    """Middle of each bin along the lane, shape (B,)."""
    moving_m2: Floats
    """Area that differs from the pictures before and after, shape (T, B), square metres at the
    runner's distance."""
    camera_still: bool
    """False where the background moved by more than a quarter of a pixel."""
    still_rgb: Bytes
    """What does not move, in the first picture's place, shape (H, W, 3)."""
    flickers: bool = False
    """A lamp lights every picture otherwise than the one before."""


def read_motion(
    clip: Clip, lane: Lane, *, time_base: TimeBase, progress: Progress | None = None,
    each_frame: Callable[[Frame], None] | None = None,
) -> MotionMap | Refused:  # fmt: skip
    """Map what moves along a lane.

    Parameters
    ----------
    clip : Clip
    lane : Lane
    time_base : TimeBase
    progress : callable, optional
        Called with the share that is done.
    each_frame : callable, optional
        Handed every frame in order, so that other measurements share the decoding.

    Returns
    -------
    MotionMap or Refused
        Refused where the camera moved too far for the lane to be kept.
    """
    step = max(1, round(max(lane.width_px, lane.height_px) / SMALL_PX))
    band = _Band(lane, step)
    times_s, areas_m2, shifts_px = [], [], []
    whole: list[Bytes] = []
    recent: list[Bytes] = []
    registration = None
    every = clip.stamps.frame_count / WHOLE_PICTURES
    try:
        for frame in _some_frames(clip, time_base, progress, each_frame):
            grey = frame.grey_small(step)
            registration = registration or Registration(grey, step)
            moved = registration.picture_from_first(grey)
            times_s.append(frame.file_time_s / time_base.file_s_per_s)
            recent = [*recent[-2:], band.cut(grey, moved)]
            if len(recent) == 3:
                areas_m2.append(band.moving_m2(*recent))
            shifts_px.append(_largest_shift_px(moved, lane))
            if frame.index >= len(whole) * every:
                whole.append(_laid_over_first(frame.rgb(), moved))
    except CameraMoved:
        return _moved(f"the background cannot be found again at {times_s[-1]:.1f} s")
    widest_px = max(shifts_px)
    if widest_px > WIDEST_PAN_SHARE * lane.width_px:
        return _moved(f"the picture moved by {widest_px:.0f} px")
    nothing = np.zeros(band.distance_m.size)  # the first and last pictures lack a neighbour
    moving_m2 = np.array([nothing, *areas_m2, nothing][: len(times_s)])
    still_rgb = np.median(whole, axis=0).astype(np.uint8)
    still = widest_px <= LOOKS_STILL_PX and np.quantile(shifts_px, MISREAD) <= STILL_CAMERA_PX
    return MotionMap(
        np.array(times_s), band.distance_m, moving_m2, bool(still), still_rgb, band.flickers
    )


def _some_frames(
    clip: Clip, time_base: TimeBase, progress: Progress | None,
    each_frame: Callable[[Frame], None] | None,
) -> Iterator[Frame]:  # fmt: skip
    file_time_s = clip.stamps.file_time_s
    due_s = 0.0
    for frame in clip.frames():
        if progress is not None:
            progress((frame.index + 1) / file_time_s.size)
        if each_frame is not None:
            each_frame(frame)
        time_s = frame.file_time_s / time_base.file_s_per_s
        if time_s >= due_s:
            due_s = max(due_s + 1 / MAP_RATE_HZ, time_s + 0.5 / MAP_RATE_HZ)
            yield frame


def _laid_over_first(rgb: Bytes, moved: Floats) -> Bytes:
    if np.abs(moved - STILL).max() <= STILL_CAMERA_PX / 4:
        return rgb
    centred = moved.copy()
    centred[:, 2] += moved[:, :2] @ [0.5, 0.5] - 0.5
    laid = cv2.warpAffine(
        rgb, centred, rgb.shape[1::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(laid, dtype=np.uint8)


def _largest_shift_px(moved: Floats, lane: Lane) -> float:
    corners = np.array([[0, 0], [1, 0], [0, 1], [1, 1]]) * [lane.width_px, lane.height_px]
    return float(np.abs(corners @ (moved - STILL)[:, :2].T + moved[:, 2]).max())


def _moved(seen: str) -> Refused:
    return Refused(
        "sprint", f"The camera moved too far: {seen}.",
        "Stand the phone against something and leave it until the run is over.",
    )  # fmt: skip


class _Band:
    """The part of the small picture in which a runner on the line would be seen."""

    def __init__(self, lane: Lane, step: int) -> None:
        along_m = [mark.distance_m for mark in lane.survey.marks]
        edges_m = np.arange(min(along_m) - MARGIN_M, max(along_m) + MARGIN_M, BIN_M)
        self.distance_m = (edges_m[:-1] + edges_m[1:]) / 2
        self._step = step
        self._size = lane.width_px // step, lane.height_px // step
        low = picture_from_lane(lane, edges_m, np.full(edges_m.shape, LOWEST_M)) / step
        high = picture_from_lane(lane, edges_m, np.full(edges_m.shape, HIGHEST_M)) / step
        self._top = int(np.clip(high[:, 1].min(), 0, self._size[1] - 2))
        self._bottom = int(np.clip(np.ceil(low[:, 1].max()), self._top + 2, self._size[1]))
        middle_px = (low[:, 0] + high[:, 0]) / 2
        columns = np.arange(self._size[0]) + 0.5
        order = np.argsort(middle_px)
        metres = np.interp(columns, middle_px[order], edges_m[order], left=np.nan, right=np.nan)
        self._bin = np.floor((metres - edges_m[0]) / BIN_M)
        self._seen = np.isfinite(self._bin)
        column_m = np.interp(columns, (columns[:-1] + columns[1:]) / 2, np.abs(np.diff(metres)))
        self._pixel_m2 = np.nan_to_num(column_m) ** 2
        self._unsteady: list[bool] = []

    @property
    def flickers(self) -> bool:
        """Whether the light changed between most pictures."""
        return bool(self._unsteady) and bool(np.mean(self._unsteady) > 0.5)

    def cut(self, grey: Bytes, moved: Floats) -> Bytes:
        """The band, laid over the first picture."""
        if np.abs(moved - STILL).max() > STILL_CAMERA_PX / 4:
            small = moved.copy()
            half = np.array([0.5, 0.5])
            small[:, 2] = moved[:, 2] / self._step - half + moved[:, :2] @ half
            grey = np.asarray(
                cv2.warpAffine(grey, small, self._size, flags=cv2.INTER_LINEAR
                               | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE),
                dtype=np.uint8,
            )  # fmt: skip
        return np.asarray(cv2.blur(grey[self._top : self._bottom], (3, 3)), dtype=np.uint8)

    def _in_light_of(self, other: Bytes, picture: Bytes) -> Bytes:
        """A picture as bright as another one, where a lamp's bands tell them apart."""
        ratio = (other.astype(np.float32) + 1) / (picture.astype(np.float32) + 1)
        rows = np.median(ratio, axis=1, keepdims=True)  # bands lie, or stand where the phone stands
        columns = median_filter(np.median(ratio / rows, axis=0), LIGHT_PX, mode="nearest")
        gain = rows * columns
        self._unsteady.append(bool(np.median(np.abs(gain - 1)) > LIGHT_CHANGE))
        if not self._unsteady[-1]:
            return picture
        return np.asarray(np.clip(picture * gain, 0, 255), dtype=np.uint8)

    def moving_m2(self, before: Bytes, at: Bytes, after: Bytes) -> Floats:
        """Area in each bin that differs from the picture before, from the one after, or both.

        What differs from both is where the body is now; a slow body in one colour shows only
        its edges, each in one of the two.
        """
        steps = [cv2.absdiff(self._in_light_of(at, one), at) for one in (before, after)]
        # Most of the band stands still: its mean step, large ones cut, is the film's noise.
        noise = max(float(np.mean(np.minimum(step, 2 * LEAST_CHANGE))) for step in steps)
        before_it, after_it = (step > max(LEAST_CHANGE, NOISE_FACTOR * noise) for step in steps)
        both, one = before_it & after_it, before_it ^ after_it
        moving = both.sum(axis=0) + EDGE_WEIGHT * one.sum(axis=0)
        by_column = (moving * self._pixel_m2)[self._seen]
        bins = self._bin[self._seen].astype(int)
        area_m2 = np.bincount(bins, by_column, minlength=self.distance_m.size)
        return np.asarray(area_m2, dtype=np.float64)
