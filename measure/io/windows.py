"""The second pass: the pixels about each planned foot event, and the bare ground behind it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.contacts.background import fit_background, legs_cover
from measure.contacts.plan import EventPlan, FootPaths
from measure.contacts.trace import EventPictures
from measure.io.look import CameraPath
from measure.io.read import Clip, Frame
from measure.types import FOOT_LANDMARKS

Bytes = NDArray[np.uint8]

BLUR_PX = 0.8
"""Takes the coder's blocks and the sensor's noise down before pixels are compared."""
BLUR_SIDE = 7
"""Pixels over which it reaches; farther out it is nothing."""
LEG_REACH_STATURES = 0.05
MOST_GROUND_PICTURES = 20
FINEST_PX_PER_M = 450.0
"""Closer pictures are halved: finer pixels cost time and give no better times."""


@dataclass
class _Window:
    """One event's pictures while they are being read."""

    plan: EventPlan
    halvings: int
    pictures: dict[int, Bytes] = field(default_factory=dict)
    ground: list[Bytes] = field(default_factory=list)
    covers: list[NDArray[np.bool_]] = field(default_factory=list)


def read_event_pictures(
    clip: Clip, plans: Sequence[EventPlan], paths: FootPaths, *, camera: CameraPath
) -> Iterator[tuple[int, EventPictures]]:
    """Read what every planned event needs, in one pass over the clip.

    Each event is handed over as soon as its last picture is read, and kept no longer: memory
    does not grow with the number of jumps.

    Parameters
    ----------
    clip : Clip
    plans : sequence of EventPlan
    paths : FootPaths
    camera : CameraPath
        A moving camera's pictures are laid over the first one.

    Yields
    ------
    tuple of int and EventPictures
        Number of the plan, and its pictures; in the order in which they are complete.
    """
    halvings = 0
    while paths.px_per_m / 2**halvings > FINEST_PX_PER_M:
        halvings += 1
    windows = {number: _Window(plan, halvings) for number, plan in enumerate(plans)}
    followed: dict[int, list[_Window]] = defaultdict(list)
    bare: dict[int, list[_Window]] = defaultdict(list)
    complete: dict[int, list[int]] = defaultdict(list)
    for number, window in windows.items():
        frames, empty = window.plan.frames.tolist(), _barest_frames(window.plan, paths)
        for index in frames:
            followed[index].append(window)
        for index in empty:
            bare[index].append(window)
        complete[max([*frames, *empty])].append(number)
    for frame in clip.frames(wanted=followed.keys() | bare.keys()):
        for window in followed.pop(frame.index, ()):
            window.pictures[frame.index] = _cut(window, frame, camera)
        for window in bare.pop(frame.index, ()):
            _take_ground(window, frame, camera, paths)
        for number in complete.pop(frame.index, ()):
            yield number, _event_pictures(windows.pop(number), paths)
    for number in sorted(windows):  # whose last picture was lost
        yield number, _event_pictures(windows.pop(number), paths)


def _barest_frames(plan: EventPlan, paths: FootPaths) -> list[int]:
    """Frames in which the legs cover least of the window."""
    left, top, right, bottom = plan.box
    reach_px = LEG_REACH_STATURES * paths.stature_px
    shares = [
        legs_cover(
            paths.px[frame], origin_px=(left, top), shape=(bottom - top, right - left),
            reach_px=reach_px,
        ).mean()
        for frame in plan.empty_frames.tolist()
    ]  # fmt: skip
    order = np.argsort(shares, kind="stable")[:MOST_GROUND_PICTURES]
    return [int(plan.empty_frames[k]) for k in order]


def _take_ground(window: _Window, frame: Frame, camera: CameraPath, paths: FootPaths) -> None:
    picture = _cut(window, frame, camera)
    scale = 2**window.halvings
    left, top, _, _ = window.plan.box
    window.ground.append(picture)
    window.covers.append(
        legs_cover(
            paths.px[frame.index] / scale, origin_px=(left / scale, top / scale),
            shape=(picture.shape[0], picture.shape[1]),
            reach_px=LEG_REACH_STATURES * paths.stature_px / scale,
        )
    )  # fmt: skip


def _cut(window: _Window, frame: Frame, camera: CameraPath) -> Bytes:
    """Cut the window out of a frame, laid over the first picture."""
    left, top, right, bottom = window.plan.box
    if camera.still:
        cut = frame.rgb_box(left, top, right, bottom)
    else:
        cut = _cut_steadied(frame, window.plan.box, camera.at(frame.index))
    for _ in range(window.halvings):
        even = cut[: cut.shape[0] // 2 * 2, : cut.shape[1] // 2 * 2]
        halved = cv2.resize(even, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        cut = np.asarray(halved, dtype=np.uint8)
    return cut


def _blurred(cuts: Sequence[Bytes]) -> NDArray[np.float32]:
    """Give pictures as they are compared: four times the memory, so only while they are."""
    blurred = np.empty((len(cuts), *cuts[0].shape), np.float32)
    for cut, target in zip(cuts, blurred, strict=True):
        cv2.GaussianBlur(
            cut.astype(np.float32), (BLUR_SIDE, BLUR_SIDE), BLUR_PX, dst=target,
            borderType=cv2.BORDER_REFLECT,
        )  # fmt: skip
    return blurred


def _cut_steadied(
    frame: Frame, box: tuple[int, int, int, int], first_from_picture: NDArray[np.float64]
) -> NDArray[np.uint8]:
    """Cut a window whose pixels are those of the first picture."""
    left, top, right, bottom = box
    margin = 8
    turned = np.linalg.inv(first_from_picture[:, :2])
    corners = np.array([[left, top], [right, top], [left, bottom], [right, bottom]], float)
    seen = (corners - first_from_picture[:, 2]) @ turned.T
    x0, y0 = np.floor(seen.min(axis=0)).astype(int) - margin
    x1, y1 = np.ceil(seen.max(axis=0)).astype(int) + margin
    x0, y0 = max(0, int(x0)), max(0, int(y0))
    part = frame.rgb_box(x0, y0, min(frame.width_px, int(x1)), min(frame.height_px, int(y1)))
    # Pixel centres lie on halves in our pixels and on whole numbers in the library's.
    half = np.array([0.5, 0.5])
    window_from_part = first_from_picture.copy()
    shift = first_from_picture[:, :2] @ (np.array([x0, y0]) + half) + first_from_picture[:, 2]
    window_from_part[:, 2] = shift - half - np.array([left, top])
    steadied = cv2.warpAffine(
        part, window_from_part, (right - left, bottom - top), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(steadied, dtype=np.uint8)


def _event_pictures(window: _Window, paths: FootPaths) -> EventPictures:
    plan, scale = window.plan, 2**window.halvings
    frames = [frame for frame in plan.frames.tolist() if frame in window.pictures]
    marks = FOOT_LANDMARKS[plan.foot]
    origin = np.array(plan.box[:2]) / scale + 0.5
    return EventPictures(
        pictures=_blurred([window.pictures[frame] for frame in frames]),
        time_s=paths.frame_time_s[frames],
        background=fit_background(_blurred(window.ground), np.stack(window.covers)),
        reference_row=frames.index(plan.reference),
        toe_px=paths.px[frames][:, marks.toe] / scale - origin,
        heel_px=paths.px[frames][:, marks.heel] / scale - origin,
        px_per_m=paths.px_per_m / scale,
    )
