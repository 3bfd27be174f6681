"""A marked lane as a person gives it, and the camera that looks at it once fitted.

Lane coordinates: distance along the lane from its zero mark, height square to the ground, and
depth away from the phone, counted from the near row of marks. Metres throughout.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["CAMERA_PARAMETERS", "Lane", "LaneMark", "LaneSurvey", "Row", "Upright"]

Floats = NDArray[np.float64]
Row = Literal["near", "far"]
Upright = tuple[tuple[float, float], tuple[float, float]]
"""Both ends of an upright thing, in pixels of the upright picture."""

CAMERA_PARAMETERS = (
    "focal_px", "yaw_rad", "pitch_rad", "roll_rad", "height_m", "station_m", "distance_m", "radial",
)  # fmt: skip
"""Order of a lane camera's numbers. Yaw is to the right, pitch downwards, roll lowers the right;
station is the distance along the lane at which the phone stands; radial is k1 in
r_d = r (1 + k1 r²) with r the tangent of the angle off the lens axis."""


@dataclass(frozen=True, slots=True)
class LaneMark:
    """Where a cone or a line meets the ground."""

    distance_m: float
    """Along the lane, from the zero mark."""
    px: tuple[float, float]
    """In the upright picture, from its left and top edge."""
    row: Row = "near"

    @property
    def name(self) -> str:
        """How the mark is called in messages."""
        return f"the {self.row} mark at {self.distance_m:g} m"


@dataclass(frozen=True, slots=True)
class LaneSurvey:
    """A lane file: marks, and what was measured with a tape."""

    marks: tuple[LaneMark, ...]
    course_m: tuple[float, ...]
    """Distances to time, in the order they are crossed."""
    athlete_offset_m: float
    """From the near row to the line that is run on, positive away from the phone."""
    athlete_offset_sigma_m: float = 0.03
    """Doubt of that line: a runner told to keep to a line wanders about this much. Give more
    where the athlete only runs "beside the cones"."""
    row_spacing_m: float | None = None
    phone_distance_m: float | None = None
    """From the phone to the near row, square to the lane."""
    phone_height_m: float | None = None
    surface: str = "unknown"
    slope_pct: float = 0.0
    """Rise per hundred along the lane, positive where greater distances lie higher."""
    uprights_px: tuple[Upright, ...] = ()
    """Posts, door frames and the like, from which the slope is measured where it is not given."""


@dataclass(frozen=True, slots=True)
class Lane:
    """One pinhole camera fitted to all marks of a survey."""

    survey: LaneSurvey
    width_px: int
    height_px: int
    direction: Literal[-1, 1]
    """1 where distances grow to the right of the picture, -1 to the left."""
    camera: Floats
    """Shape (8,), in the order of `CAMERA_PARAMETERS`."""
    covariance: Floats
    """Shape (8, 8), of ``camera``."""
    residual_px: Floats
    """Shape (N, 2): where the fitted camera sees each mark, minus where it was marked."""
