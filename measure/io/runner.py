"""Follow a small runner: pose on an enlarged crop that goes along the lane with her."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import TimeBase
from measure.io.frame import Frame
from measure.io.ground_strip import GroundStrip
from measure.io.pose import Landmarks, PoseModel, Region, region_from_axis
from measure.io.read import Clip
from measure.io.registration import STILL, Registration
from measure.sprint.stands import GroundMap
from measure.sprint.trace import RunTrace
from measure.types import Landmark, PoseTrack

__all__ = ["RunnerFilm", "RunnerSettings", "SetPictures", "film_runner"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Progress = Callable[[float], None]
REGISTRATION_PX = 960
HIPS = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]


@dataclass(frozen=True, slots=True)
class RunnerSettings:
    """How a runner is followed."""

    pose_rate_hz: float = 30.0
    """A hip's path is smooth: more poses moved the marks by 0.1 ms."""
    before_s: float = 0.9
    """Followed from this long before the run begins."""
    start_window_s: tuple[float, float] = (-0.9, 0.6)
    """Pictures kept about the run's beginning, to find the first movement."""
    start_box_m: tuple[float, float, float, float] = (-1.4, 1.4, -0.1, 1.9)
    """Kept of them: behind, ahead, below, above the place of rest on the ground."""
    first_crop_m: float = 2.8
    """Side of the crop where nobody is followed yet."""
    centre_height_m: float = 0.85
    reach_m: float = 1.0
    """A pose with its hips farther than this from where motion was seen is somebody else's."""
    sizes_m: tuple[float, float] = (1.5, 3.6)
    """Sides of crop that a runner can need."""
    turn_share: float = 0.3
    """How much of a new turn and size of the crop is taken over from one pose to the next."""


@dataclass(frozen=True, slots=True)
class SetPictures:
    """The part of the picture about the place of rest, at every frame near the start."""

    time_s: Floats
    """Real seconds, shape (T,)."""
    rgb: Bytes
    """Shape (T, H, W, 3), laid over each other where the camera moved."""
    px_per_m: float


@dataclass(frozen=True, slots=True)
class RunnerFilm:
    """What following gave."""

    track: PoseTrack
    """In the picture as filmed; frames without a believed pose have no row."""
    time_s: Floats
    """Real seconds of the track's rows."""
    lane_px: Floats
    """The track's points laid over the first picture, where the lane was marked, (T, 33, 2)."""
    asked: int
    """Frames in which a pose was looked for inside the picture."""
    set_pictures: SetPictures | None
    ground: GroundMap | None = None
    """None where the camera moved, a lamp flickers, or the ground's strip is too thin."""
    flickers: bool = False
    """A lamp lights every picture otherwise than the one before."""


def film_runner(
    clip: Clip, model: PoseModel, lane: Lane, trace: RunTrace, *, time_base: TimeBase,
    empty_rgb: Bytes | None, settings: RunnerSettings | None = None,
    progress: Progress | None = None,
) -> RunnerFilm:  # fmt: skip
    """Read a runner's poses along a trace.

    Parameters
    ----------
    clip : Clip
    model : PoseModel
    lane : Lane
    trace : RunTrace
    time_base : TimeBase
    empty_rgb : ndarray of shape (H, W, 3), uint8, or None
        The place without the runner, from a camera that stood still. None has every picture laid
        over the first one.
    settings : RunnerSettings, optional
    progress : callable, optional

    Returns
    -------
    RunnerFilm
        With an empty track where no pose was believed.
    """
    settings = settings or RunnerSettings()
    walk = _Walk(model, lane, trace, settings)
    register = _first_registration(clip) if empty_rgb is None else None
    strip = None if empty_rgb is None else GroundStrip(lane, trace, empty_rgb)
    kept = _Kept(lane, trace, settings)
    from_s = (trace.start_s - settings.before_s) * time_base.file_s_per_s
    until_s = trace.end_s * time_base.file_s_per_s
    due_s = -np.inf
    for frame in clip.frames(from_s=from_s, until_s=until_s):
        time_s = frame.file_time_s / time_base.file_s_per_s
        wanted = time_s >= due_s - 0.1 / settings.pose_rate_hz
        moved = STILL
        if register is not None and (wanted or kept.wants(time_s)):
            moved = register.picture_from_first(frame.grey_small(register.step))
        kept.keep(frame, time_s, moved)
        if strip is not None:
            strip.keep(frame, time_s)
        if wanted:
            due_s = max(due_s + 1 / settings.pose_rate_hz, time_s + 0.5 / settings.pose_rate_hz)
            walk.look(frame, time_s, moved)
        if progress is not None and until_s > from_s:
            progress(min(1.0, max(0.0, (frame.file_time_s - from_s) / (until_s - from_s))))
    film = walk.film(lane, kept.pictures())
    return film if strip is None else replace(film, ground=strip.map())


def _first_registration(clip: Clip) -> Registration:
    first = next(iter(clip.frames(until_s=0.0)))
    step = max(1, round(max(first.width_px, first.height_px) / REGISTRATION_PX))
    return Registration(first.grey_small(step), step)


@dataclass(frozen=True, slots=True)
class _Row:
    """One believed pose; the picture itself is let go."""

    frame_index: int
    file_time_s: float
    time_s: float
    pose: Landmarks
    moved: Floats


class _Walk:
    """The crop that goes along, and the poses read in it."""

    def __init__(
        self, model: PoseModel, lane: Lane, trace: RunTrace, settings: RunnerSettings
    ) -> None:
        self._model, self._lane, self._trace, self._settings = model, lane, trace, settings
        self._ahead_m = 0.0
        self._shape: tuple[float, float, float] | None = None
        self._rows: list[_Row] = []
        self._asked = 0

    def look(self, frame: Frame, time_s: float, moved: Floats) -> None:
        """Read the runner in one frame."""
        region = self._region(time_s, moved)
        if not (0 < region.centre_px[0] < self._lane.width_px):
            return
        self._asked += 1
        found = self._model.landmarks(frame, region)
        if found is None or not self._believed(found, time_s, moved):
            self._shape = None
            return
        self._learn(found, time_s, moved)
        self._rows.append(_Row(frame.index, frame.file_time_s, time_s, found, moved))

    def _region(self, time_s: float, moved: Floats) -> Region:
        settings = self._settings
        place_m = float(self._trace.at(np.array(time_s))) + self._ahead_m
        size_m, angle_rad, height_m = self._shape or (
            settings.first_crop_m, 0.0, settings.centre_height_m
        )  # fmt: skip
        centre = _moved(self._lane_px(place_m, height_m), moved)
        size_px = size_m * self._scale(place_m)
        return Region((float(centre[0]), float(centre[1])), size_px, angle_rad)

    def _believed(self, found: Landmarks, time_s: float, moved: Floats) -> bool:
        hips = _unmoved(found.px[HIPS].mean(axis=0), moved)
        place_m = float(self._trace.at(np.array(time_s)))
        expected = self._lane_px(place_m, self._settings.centre_height_m)
        reach_px = self._settings.reach_m * self._scale(place_m)
        size_px = region_from_axis(found.axis_px).size_px
        low_m, high_m = self._settings.sizes_m
        scale = self._scale(place_m)
        return bool(
            np.hypot(*(hips - expected)) < reach_px and low_m * scale < size_px < high_m * scale
        )

    def _learn(self, found: Landmarks, time_s: float, moved: Floats) -> None:
        """Take over where in the crop the body was, slowly in turn and size."""
        region = region_from_axis(found.axis_px)
        place_m = float(self._trace.at(np.array(time_s)))
        scale = self._scale(place_m)
        centre = _unmoved(np.array(region.centre_px), moved)
        ground = self._lane_px(place_m, 0.0)
        share = self._settings.turn_share
        self._ahead_m += share * (
            self._lane.direction * float(centre[0] - ground[0]) / scale - self._ahead_m
        )
        new = (region.size_px / scale, region.angle_rad, float(ground[1] - centre[1]) / scale)
        old = self._shape or new
        size_m, angle_rad, height_m = (o + share * (n - o) for o, n in zip(old, new, strict=True))
        self._shape = (size_m, angle_rad, height_m)

    def _lane_px(self, place_m: float, height_m: float) -> Floats:
        return picture_from_lane(self._lane, np.array(place_m), np.array(height_m))

    def _scale(self, place_m: float) -> float:
        """Pixels per metre at a place."""
        return float(np.hypot(*(self._lane_px(place_m, 1.0) - self._lane_px(place_m, 0.0))))

    def film(self, lane: Lane, pictures: SetPictures | None) -> RunnerFilm:
        """Everything that was read."""
        rows = self._rows
        count = len(rows)
        px = np.array([row.pose.px for row in rows]).reshape(count, len(Landmark), 2)
        lane_px = [_unmoved(row.pose.px, row.moved) for row in rows]
        track = PoseTrack(
            frame_index=np.array([row.frame_index for row in rows], dtype=np.int64),
            file_time_s=np.array([row.file_time_s for row in rows], dtype=np.float64),
            px=px,
            visibility=np.array([row.pose.visibility for row in rows]).reshape(count, -1)
            if count else np.empty((0, len(Landmark))),
            world_m=np.array([row.pose.world_m for row in rows]).reshape(
                count, len(Landmark), 3),
            width_px=lane.width_px, height_px=lane.height_px,
        )  # fmt: skip
        time_s = np.array([row.time_s for row in rows], dtype=np.float64)
        return RunnerFilm(
            track, time_s, np.array(lane_px).reshape(px.shape), self._asked, pictures
        )


class _Kept:
    """Pictures about the place of rest."""

    def __init__(self, lane: Lane, trace: RunTrace, settings: RunnerSettings) -> None:
        behind, ahead, below, above = settings.start_box_m
        rest_m = float(trace.at(np.array(trace.start_s - 0.2)))
        corners = picture_from_lane(
            lane, rest_m + np.array([behind, ahead]), np.array([above, below])
        )
        (x0, x1), (top, bottom) = np.sort(corners.T, axis=1)
        self._box = (
            max(int(x0), 0), max(int(top), 0),
            min(int(x1) + 1, lane.width_px), min(int(bottom) + 1, lane.height_px),
        )  # fmt: skip
        self._px_per_m = float(x1 - x0) / (ahead - behind)
        self._from_s, self._until_s = (trace.start_s + edge for edge in settings.start_window_s)
        self._times_s: list[float] = []
        self._pictures: list[Bytes] = []

    def wants(self, time_s: float) -> bool:
        """Whether a moment is near enough to the start."""
        inside = self._box[2] > self._box[0] and self._box[3] > self._box[1]
        return inside and self._from_s <= time_s <= self._until_s

    def keep(self, frame: Frame, time_s: float, moved: Floats) -> None:
        """Take the picture if it is wanted."""
        if self.wants(time_s):
            self._times_s.append(time_s)
            self._pictures.append(self._cut(frame, moved))

    def _cut(self, frame: Frame, moved: Floats) -> Bytes:
        """The box, laid over the first picture."""
        left, top, right, bottom = self._box
        if moved is STILL:
            return frame.rgb_box(left, top, right, bottom)
        picture_from_box = moved.copy()
        picture_from_box[:, 2] = _moved(np.array([left, top], dtype=np.float64), moved)
        square = frame.warp(picture_from_box, size_px=max(right - left, bottom - top))
        return square[: bottom - top, : right - left]

    def pictures(self) -> SetPictures | None:
        """Everything that was kept; None where the place of rest is not in the picture."""
        if not self._pictures:
            return None
        return SetPictures(np.array(self._times_s), np.stack(self._pictures), self._px_per_m)


def _moved(first_px: Floats, moved: Floats) -> Floats:
    return np.asarray(first_px @ moved[:, :2].T + moved[:, 2])


def _unmoved(px: Floats, moved: Floats) -> Floats:
    return np.asarray((px - moved[:, 2]) @ np.linalg.inv(moved[:, :2]).T)
