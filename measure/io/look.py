"""The first pass over a clip: the athlete's poses, the picture changes, the camera's movement."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.errors import NothingToMeasure
from measure.io.athlete import (
    AthleteSettings,
    FollowedAthlete,
    bridge_rows,
    follow_athlete,
)
from measure.io.changes import ChangeMeter, PictureChanges
from measure.io.frame import shrink
from measure.io.kept import KeptStrips
from measure.io.memory import give_back_memory
from measure.io.pose import PoseModel
from measure.io.read import Clip, Frame
from measure.io.registration import CameraMoved, Registration
from measure.types import PoseTrack

Floats = NDArray[np.float64]

GREY_STEP = 4
"""Pixels per small pixel where pictures are compared for changes."""
CAMERA_WIDTH_PX = 700
"""Pictures are halved to about this width where the camera's movement is followed."""
STILL_CAMERA_PX = 0.6
"""Less than this at the middle of the picture is the noise of the method."""
QUIET_CAMERA_PX = 0.3
"""A camera that moved less between two looks stood still in between as well."""
LOOKS_HZ, QUIET_LOOKS = 60.0, 4
"""Looks at the camera per second of file time while it moves, and how manieth of them is enough
while it doesn't."""
TOO_DARK_GREY = 25.0
"""Middle grey level of a clip in which noise is taken for movement."""
FARTHEST_CAMERA_SHARE = 0.12
"""A camera that moved more than this share of the picture panned."""


@dataclass(frozen=True, slots=True)
class CameraPath:
    """Where the camera pointed, as the map from each picture to the first one."""

    frame_index: NDArray[np.int64]
    """Frames for which it was worked out, shape (K,)."""
    first_from_picture: Floats
    """Similarities, shape (K, 2, 3)."""
    moved_px: float
    """Largest movement of the middle of the picture."""

    @property
    def still(self) -> bool:
        """Tell whether the camera stood still."""
        return self.moved_px < STILL_CAMERA_PX

    def at(self, frame_index: int) -> Floats:
        """Map of one frame, between the known ones by straight lines, shape (2, 3)."""
        flat = self.first_from_picture.reshape(len(self.frame_index), 6)
        row = [np.interp(frame_index, self.frame_index, flat[:, k]) for k in range(6)]
        return np.array(row).reshape(2, 3)


@dataclass(frozen=True, slots=True)
class FirstLook:
    """What the first pass saw."""

    athlete: FollowedAthlete
    """Poses in the pixels of the first picture: the camera's movement is taken out."""
    frame_file_time_s: Floats
    """Timestamps of all frames, shape (N,)."""
    changes: PictureChanges
    camera: CameraPath
    brightness: float
    """Middle grey level of the clip, 0 to 255."""


def look_at_clip(
    clip: Clip, model: PoseModel, *, settings: AthleteSettings | None = None,
    progress: Callable[[float], None] | None = None, kept: KeptStrips | None = None,
) -> FirstLook:  # fmt: skip
    """Go through the clip once.

    Parameters
    ----------
    clip : Clip
    model : PoseModel
    settings : AthleteSettings, optional
        How many poses are read, and how the athlete is followed.
    progress : callable, optional
        Told the part done, 0 to 1.
    kept : KeptStrips, optional
        Gets what the second pass will need of the pictures, as far as it has room.

    Returns
    -------
    FirstLook

    Raises
    ------
    NothingToMeasure
        When nobody can be followed or the camera did not stay on its place.
    """
    meter = _Meter(clip)

    def take(frame: Frame) -> None:
        meter.take(frame)
        if kept is not None:
            kept.take(frame)

    try:
        athlete = follow_athlete(
            clip, model, settings=settings, progress=progress, each_frame=take,
            each_look=None if kept is None else kept.see,
        )  # fmt: skip
        camera = meter.camera()
        give_back_memory()
    except CameraMoved as moved:
        meter.check_light()
        raise NothingToMeasure(
            "The camera moves too much in this clip.",
            "Lean the phone against something heavy and film again without touching it.",
        ) from moved
    if camera.moved_px > FARTHEST_CAMERA_SHARE * clip.stream.width_px:
        meter.check_light()
        raise NothingToMeasure(
            "The camera turns along with the athlete in this clip.",
            "Lean the phone against something heavy and let the athlete move in a still picture.",
        )
    if not camera.still:
        athlete = replace(athlete, track=_steadied(athlete, camera))
    return FirstLook(
        athlete, np.array(meter.times_s), meter.changes(), camera, float(np.median(meter.greys))
    )


class _Meter:
    """Takes every frame of the pass; keeps numbers, no pictures but the last small one."""

    def __init__(self, clip: Clip) -> None:
        self.times_s: list[float] = []
        self.greys: list[float] = []
        self._changes = ChangeMeter()
        self._every = max(1, round(1 / (LOOKS_HZ * clip.stamps.usual_interval_s)))
        self._camera = _CameraWatch(clip.stream.width_px, clip.stream.height_px)

    def take(self, frame: Frame) -> None:
        """Look at one frame."""
        self.times_s.append(frame.file_time_s)
        looks_at_camera = frame.index % self._every == 0
        small = self._camera.keep(frame) if looks_at_camera else frame.grey_small(GREY_STEP)
        self._changes.take(small)
        if looks_at_camera:
            self.greys.append(_median_grey(small))  # first: in the dark the camera seems to move
            self._camera.look()

    def check_light(self) -> None:
        """Refuse a clip in which darkness, not the camera, is what moves."""
        if np.median(self.greys) < TOO_DARK_GREY:
            raise NothingToMeasure(
                "The clip is too dark to follow anybody.",
                "Film in daylight or with the lights on.",
            )

    def changes(self) -> PictureChanges:
        """Changes between neighbouring pictures."""
        return self._changes.changes()

    def camera(self) -> CameraPath:
        """Where the camera pointed."""
        return self._camera.path()


class _CameraWatch:
    """Looks where the camera points: now and then while it stands still, else at every look."""

    def __init__(self, width_px: int, height_px: int) -> None:
        self._step = 2 ** max(0, round(math.log2(width_px / CAMERA_WIDTH_PX)))
        self._middle = np.array([width_px / 2, height_px / 2])
        self._registration: Registration | None = None
        self._maps: dict[int, Floats] = {}
        self._unseen: list[tuple[int, NDArray[np.uint8]]] = []

    def keep(self, frame: Frame) -> NDArray[np.uint8]:
        """Keep a frame; give it by steps of ``GREY_STEP``, made of the picture to look at."""
        grey = frame.grey_small(self._step)
        self._unseen.append((frame.index, grey))
        if GREY_STEP % self._step:
            return frame.grey_small(GREY_STEP)
        return shrink(grey, GREY_STEP // self._step)

    def look(self) -> None:
        """Look at what was kept, once it is known which of it needs looking at."""
        if not self._maps or len(self._unseen) >= QUIET_LOOKS:
            self._catch_up()

    def path(self) -> CameraPath:
        """All that was seen."""
        if self._unseen:
            self._catch_up()
        maps = np.array(list(self._maps.values()))
        ways = maps[:, :, :2] @ self._middle + maps[:, :, 2] - self._middle
        return CameraPath(np.array(list(self._maps)), maps, float(np.hypot(*ways.T).max()))

    def _catch_up(self) -> None:
        *between, (index, grey) = self._unseen
        self._unseen = []
        if self._registration is None:
            self._registration = Registration(grey, self._step)
        before = self._middle_px(self._maps[max(self._maps)]) if self._maps else self._middle
        try:
            latest = _inverse(self._registration.picture_from_first(grey))
            moved = float(np.hypot(*(self._middle_px(latest) - before))) > QUIET_CAMERA_PX
        except CameraMoved:  # too far in one step, perhaps
            moved = bool(between)
            if not moved:
                raise
        if moved:
            for number, picture in between:
                self._maps[number] = _inverse(self._registration.picture_from_first(picture))
            latest = _inverse(self._registration.picture_from_first(grey))
        self._maps[index] = latest

    def _middle_px(self, first_from_picture: Floats) -> Floats:
        moved: Floats = first_from_picture[:, :2] @ self._middle + first_from_picture[:, 2]
        return moved


def _median_grey(small: NDArray[np.uint8]) -> float:
    """Middle grey level, from the histogram: numpy's median sorts all pixels."""
    below = np.cumsum(cv2.calcHist([small], [0], None, [256], [0, 256]))
    return float(np.searchsorted(below, small.size / 2))


def _inverse(similarity: Floats) -> Floats:
    turned = np.linalg.inv(similarity[:, :2])
    return np.concatenate([turned, -turned @ similarity[:, 2:]], axis=1)


def _steadied(athlete: FollowedAthlete, camera: CameraPath) -> PoseTrack:
    """Poses in the pixels of the first picture."""
    track = athlete.track
    px = track.px.copy()
    for row, index in enumerate(track.frame_index.tolist()):
        first_from_picture = camera.at(index)
        px[row] = px[row] @ first_from_picture[:, :2].T + first_from_picture[:, 2]
    if athlete.passed_over is not None:  # straight lines bend where the camera moves
        bridge_rows(px, track.file_time_s, passed_over=athlete.passed_over)
    return replace(track, px=px)
