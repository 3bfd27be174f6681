"""The second pass: the pixels about each planned foot event, and the bare ground behind it."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.contacts.background import legs_cover, legs_cover_share
from measure.contacts.foot_paths import FootPaths
from measure.contacts.plan import EventPlan
from measure.io.cut import CutPictures
from measure.io.feet_seen import Box
from measure.io.frame import Frame, FramePart
from measure.io.kept import KeptStrips
from measure.io.look import CameraPath
from measure.io.memory import give_back_memory
from measure.io.read import Clip
from measure.types import FOOT_LANDMARKS, Floats

Bytes = NDArray[np.uint8]

LEG_REACH_STATURES = 0.05
MOST_GROUND_PICTURES, ENOUGH_GROUND_PICTURES = 20, 9
AS_BARE_SHARE = 0.03
"""Pictures in which the legs cover so little more of the window are as good, and those between
the events are read anyway."""
WORTH_A_LEAP_S = 1.5
"""Longer stretches that nobody needs are leapt over; a film is entered at a key frame only."""
FINEST_PX_PER_M = 450.0
"""Closer pictures are halved: finer pixels cost time and give no better times."""
STEADY_MARGIN_PX = 8
"""More than a window, that nothing beyond its edge is missed where the picture is turned."""


@dataclass
class _Window:
    """One event's pictures while they are being read."""

    plan: EventPlan
    halvings: int
    pictures: dict[int, Bytes] = field(default_factory=dict)
    ground: list[Bytes] = field(default_factory=list)
    covers: list[NDArray[np.bool_]] = field(default_factory=list)


def read_event_pictures(
    clip: Clip, plans: Sequence[EventPlan], paths: FootPaths, *, camera: CameraPath,
    kept: KeptStrips | None = None,
) -> Iterator[tuple[int, CutPictures]]:
    """Read what every planned event needs: from what was kept, else from the clip once more.

    Each event is handed over as soon as its last picture is read, and kept no longer: memory
    does not grow with the number of jumps. What was kept and isn't needed is forgotten at once,
    before the first event is asked for.

    Parameters
    ----------
    clip : Clip
    plans : sequence of EventPlan
    paths : FootPaths
    camera : CameraPath
        A moving camera's pictures are laid over the first one.
    kept : KeptStrips, optional
        What the first pass kept. Pictures that hold all that is wanted of them aren't decoded
        again; the answers are the same.

    Yields
    ------
    tuple of int and CutPictures
        Number of the plan, and its pictures; in the order in which they are complete.
    """
    halvings = 0
    while paths.px_per_m / 2**halvings > FINEST_PX_PER_M:
        halvings += 1
    asked = _Asked({number: _Window(plan, halvings) for number, plan in enumerate(plans)})
    read_anyway = _between_events(plans, paths.frame_time_s)
    for number, window in asked.windows.items():
        frames = window.plan.frames.tolist()
        empty = _barest_frames(window.plan, paths, read_anyway)
        for index in frames:
            asked.followed[index].append(window)
        for index in empty:
            asked.bare[index].append(window)
        asked.complete[max([*frames, *empty])].append(number)
    pictures = _pictures(clip, asked.boxes(camera), paths.frame_time_s, kept)
    return _cut_events(pictures, asked, paths, camera)


@dataclass
class _Asked:
    """Windows to be cut, and which picture is for which of them."""

    windows: dict[int, _Window]
    followed: dict[int, list[_Window]] = field(default_factory=lambda: defaultdict(list))
    bare: dict[int, list[_Window]] = field(default_factory=lambda: defaultdict(list))
    complete: dict[int, list[int]] = field(default_factory=lambda: defaultdict(list))
    """Numbers of the plans whose last picture it is."""

    def boxes(self, camera: CameraPath) -> dict[int, list[Box]]:
        """Tell which pixels of which pictures are needed."""
        return {
            index: [
                _wanted_box(window, camera, index)
                for window in self.followed.get(index, []) + self.bare.get(index, [])
            ]
            for index in {*self.followed, *self.bare}
        }


def _cut_events(
    pictures: Iterator[Frame | FramePart], asked: _Asked, paths: FootPaths, camera: CameraPath
) -> Iterator[tuple[int, CutPictures]]:
    for frame in pictures:
        for window in asked.followed.pop(frame.index, ()):
            window.pictures[frame.index] = _cut(window, frame, camera)
        for window in asked.bare.pop(frame.index, ()):
            _take_ground(window, frame, camera, paths)
        for number in asked.complete.pop(frame.index, ()):
            yield number, _cut_pictures(asked.windows.pop(number), paths)
    for number in sorted(asked.windows):  # whose last picture was lost
        yield number, _cut_pictures(asked.windows.pop(number), paths)


def _pictures(
    clip: Clip, boxes: Mapping[int, Collection[Box]], frame_time_s: Floats, kept: KeptStrips | None
) -> Iterator[Frame | FramePart]:
    """Give every wanted picture in its order: a part that was kept, else decoded again."""
    held: set[int] = set() if kept is None else kept.claim(boxes)
    give_back_memory()
    again = _parts(boxes.keys() - held, frame_time_s)
    decoded: Iterator[Frame | FramePart] = chain.from_iterable(
        clip.frames(wanted=part) for part in again
    )
    if kept is None:
        return decoded
    from_kept: Iterator[Frame | FramePart] = (kept.pop(index) for index in sorted(held))
    return heapq.merge(from_kept, decoded, key=lambda picture: picture.index)


def _parts(frames: Collection[int], frame_time_s: Floats) -> list[list[int]]:
    """Split frame numbers where they leave out a stretch that is worth a leap."""
    if not frames:
        return []
    ordered = np.array(sorted(frames))
    leaps = np.flatnonzero(np.diff(frame_time_s[ordered]) > WORTH_A_LEAP_S) + 1
    return [part.tolist() for part in np.split(ordered, leaps)]


def _between_events(plans: Sequence[EventPlan], frame_time_s: Floats) -> NDArray[np.bool_]:
    """Tell which frames are decoded for the events themselves, shape (N,)."""
    read = np.zeros(frame_time_s.shape[0], dtype=bool)
    wanted = {frame for plan in plans for frame in plan.frames.tolist()}
    for part in _parts(wanted, frame_time_s):
        read[part[0] : part[-1] + 1] = True
    return read


def _barest_frames(plan: EventPlan, paths: FootPaths, read_anyway: NDArray[np.bool_]) -> list[int]:
    """Frames in which the legs cover least of the window; if it can be, of those read anyway."""
    left, top, right, bottom = plan.box
    reach_px = LEG_REACH_STATURES * paths.stature_px
    shares = np.array([
        legs_cover_share(
            paths.px[frame], origin_px=(left, top), shape=(bottom - top, right - left),
            reach_px=reach_px,
        )
        for frame in plan.empty_frames.tolist()
    ])  # fmt: skip
    order = np.argsort(shares, kind="stable")
    barest = plan.empty_frames[order]
    bare_enough = shares[order] <= shares[order[:ENOUGH_GROUND_PICTURES][-1]] + AS_BARE_SHARE
    handy = barest[bare_enough & read_anyway[barest]]
    chosen = handy if handy.size >= ENOUGH_GROUND_PICTURES else barest
    return [int(frame) for frame in chosen[:MOST_GROUND_PICTURES]]


def _take_ground(
    window: _Window, frame: Frame | FramePart, camera: CameraPath, paths: FootPaths
) -> None:
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


def _cut(window: _Window, frame: Frame | FramePart, camera: CameraPath) -> Bytes:
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


def _wanted_box(window: _Window, camera: CameraPath, index: int) -> Box:
    """Tell which pixels of a picture are needed for a window."""
    return window.plan.box if camera.still else _seen_box(window.plan.box, camera.at(index))


def _seen_box(box: Box, first_from_picture: Floats) -> Box:
    """Tell where a window lies in a picture of a camera that moved, with a margin."""
    left, top, right, bottom = box
    turned = np.linalg.inv(first_from_picture[:, :2])
    corners = np.array([[left, top], [right, top], [left, bottom], [right, bottom]], float)
    seen = (corners - first_from_picture[:, 2]) @ turned.T
    x0, y0 = np.floor(seen.min(axis=0)).astype(int) - STEADY_MARGIN_PX
    x1, y1 = np.ceil(seen.max(axis=0)).astype(int) + STEADY_MARGIN_PX
    return max(0, int(x0)), max(0, int(y0)), int(x1), int(y1)


def _cut_steadied(frame: Frame | FramePart, box: Box, first_from_picture: Floats) -> Bytes:
    """Cut a window whose pixels are those of the first picture."""
    left, top, right, bottom = box
    x0, y0, x1, y1 = _seen_box(box, first_from_picture)
    part = frame.rgb_box(x0, y0, x1, y1)
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


def _cut_pictures(window: _Window, paths: FootPaths) -> CutPictures:
    plan, scale = window.plan, 2**window.halvings
    frames = [frame for frame in plan.frames.tolist() if frame in window.pictures]
    marks = FOOT_LANDMARKS[plan.foot]
    origin = np.array(plan.box[:2]) / scale + 0.5
    return CutPictures(
        pictures=[window.pictures[frame] for frame in frames],
        time_s=paths.frame_time_s[frames],
        reference_row=frames.index(plan.reference),
        ground=window.ground, covers=window.covers,
        toe_px=paths.px[frames][:, marks.toe] / scale - origin,
        heel_px=paths.px[frames][:, marks.heel] / scale - origin,
        px_per_m=paths.px_per_m / scale,
    )  # fmt: skip
