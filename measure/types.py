"""The shared values of the measuring room: axis order, signs and clocks are said once, here.

Pixels count from the left and top edge of the upright picture: the middle of a 1920-pixel
picture is 960.0 and the centre of the first pixel is 0.5. Image y points down.
``file_time_s`` is what the file says; ``time_s`` is real time since the first frame.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from calibration.values import Estimate, Refused, Scale, TimeBase

__all__ = [
    "FEET",
    "FEWEST_ROWS",
    "FOOT_LANDMARKS",
    "Contact",
    "Estimate",
    "Flight",
    "Foot",
    "Instant",
    "Landmark",
    "PoseTrack",
    "Refused",
    "Scale",
    "Side",
    "TimeBase",
    "View",
]  # fmt: skip

Floats = NDArray[np.float64]
Foot = Literal["left", "right"]
FEET: tuple[Foot, Foot] = ("left", "right")
Side = Literal["left", "right", "both"]
View = Literal["side", "front", "oblique"]
FEWEST_ROWS = 8
"""Rows of a pose track in which something can be measured."""


class Landmark(IntEnum):
    """Body points of a pose track, in storage order (left and right are the athlete's)."""

    NOSE = 0
    LEFT_EYE_INNER = 1
    LEFT_EYE = 2
    LEFT_EYE_OUTER = 3
    RIGHT_EYE_INNER = 4
    RIGHT_EYE = 5
    RIGHT_EYE_OUTER = 6
    LEFT_EAR = 7
    RIGHT_EAR = 8
    MOUTH_LEFT = 9
    MOUTH_RIGHT = 10
    LEFT_SHOULDER = 11
    RIGHT_SHOULDER = 12
    LEFT_ELBOW = 13
    RIGHT_ELBOW = 14
    LEFT_WRIST = 15
    RIGHT_WRIST = 16
    LEFT_PINKY = 17
    RIGHT_PINKY = 18
    LEFT_INDEX = 19
    RIGHT_INDEX = 20
    LEFT_THUMB = 21
    RIGHT_THUMB = 22
    LEFT_HIP = 23
    RIGHT_HIP = 24
    LEFT_KNEE = 25
    RIGHT_KNEE = 26
    LEFT_ANKLE = 27
    RIGHT_ANKLE = 28
    LEFT_HEEL = 29
    RIGHT_HEEL = 30
    LEFT_TOE = 31
    RIGHT_TOE = 32


@dataclass(frozen=True, slots=True)
class FootLandmarks:
    """Where one leg's points stand in a pose track."""

    hip: Landmark
    knee: Landmark
    ankle: Landmark
    heel: Landmark
    toe: Landmark


FOOT_LANDMARKS: Mapping[Foot, FootLandmarks] = {
    "left": FootLandmarks(
        Landmark.LEFT_HIP, Landmark.LEFT_KNEE, Landmark.LEFT_ANKLE,
        Landmark.LEFT_HEEL, Landmark.LEFT_TOE,
    ),
    "right": FootLandmarks(
        Landmark.RIGHT_HIP, Landmark.RIGHT_KNEE, Landmark.RIGHT_ANKLE,
        Landmark.RIGHT_HEEL, Landmark.RIGHT_TOE,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PoseTrack:
    """One athlete's body points over a clip. Row k belongs to decoded frame ``frame_index[k]``."""

    frame_index: NDArray[np.int64]
    """Number of the frame in decoding order, shape (T,), increasing. Poses may skip frames."""
    file_time_s: Floats
    """Timestamp of each row's frame, shape (T,), seconds of file time, increasing."""
    px: Floats
    """Landmarks in the upright picture, shape (T, 33, 2), x right and y down; NaN where
    not seen."""
    visibility: Floats
    """The model's own belief that a point is in view, shape (T, 33), 0 to 1; 0 where not seen."""
    world_m: Floats
    """The model's metric guess about the hips, shape (T, 33, 3), x right, y down, z away from
    the camera; good for directions, not for lengths. NaN where not seen."""
    width_px: int
    height_px: int

    def __post_init__(self) -> None:
        rows = self.frame_index.shape[0]
        expected = {
            "frame_index": (rows,), "file_time_s": (rows,), "px": (rows, len(Landmark), 2),
            "visibility": (rows, len(Landmark)), "world_m": (rows, len(Landmark), 3),
        }  # fmt: skip
        faults = [
            f"{name}: expected shape {shape}, got {getattr(self, name).shape}"
            for name, shape in expected.items()
            if getattr(self, name).shape != shape
        ]
        if rows > 1 and not np.all(np.diff(self.file_time_s) > 0):
            faults.append("file_time_s: expected strictly increasing")
        if faults:
            raise ValueError("; ".join(faults))


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment between frames, in real seconds since the first frame."""

    time_s: float
    sigma_s: float


@dataclass(frozen=True, slots=True)
class Contact:
    """One foot on the ground, from touchdown to leaving it.

    ``start`` or ``end`` is None where it lies outside the clip or was not measured; the clip's
    refusals say which.
    """

    foot: Foot
    start: Instant | None
    end: Instant | None
    rough_start_s: float | None = field(default=None, compare=False)
    """When the poses alone see it begin, up to 60 ms early; only where it begins in the clip."""


@dataclass(frozen=True, slots=True)
class Flight:
    """Both feet off the ground: from the last foot's leaving to the first foot's touchdown."""

    take_off: Instant
    landing: Instant
    take_off_side: Side
    landing_side: Side
    coarse_s: tuple[float, float] = field(default=(0.0, 0.0))
    """The flight as first seen on the pose alone, start and end in real seconds."""
    one_foot_hides_other: bool = False
    """At the landing: both were timed by the same pixels, so which one was first does not show."""
