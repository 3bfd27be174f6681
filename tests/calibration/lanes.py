"""Lanes seen by a known camera."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calibration.lane_camera import LaneView, project
from calibration.lane_values import LaneMark, LaneSurvey

Floats = NDArray[np.float64]
DISTANCES_M = (0.0, 4.572, 9.144, 13.716, 18.288)
VIEW = LaneView(1920, 1080, 1)


def camera(**changes: float) -> Floats:
    """A phone 17 m beside the middle of a 20-yard lane."""
    usual = {
        "focal_px": 1480.0, "yaw_rad": 0.03, "pitch_rad": 0.04, "roll_rad": 0.005, "height_m": 1.3,
        "station_m": 9.0, "distance_m": 17.0, "radial": 0.0,
    }  # fmt: skip
    return np.array(list((usual | changes).values()))


def aimed(*, yaw_rad: float, distance_m: float, **changes: float) -> Floats:
    """A phone that stands where turning it by the yaw brings the lane's middle to the centre."""
    station_m = 9.144 - (distance_m + 0.5) * math.tan(yaw_rad)
    return camera(yaw_rad=yaw_rad, distance_m=distance_m, station_m=station_m, **changes)


def survey(
    seen_by: Floats, *, view: LaneView = VIEW, far: bool = False, noise_px: float = 0.0,
    rng: np.random.Generator | None = None, **changes: object,
) -> LaneSurvey:  # fmt: skip
    """Mark every cone where the camera sees it, with a click's noise."""
    marks = []
    for row in ("near", "far") if far else ("near",):
        for distance_m in DISTANCES_M:
            point_m = np.array([distance_m, 0.0, 1.5 if row == "far" else 0.0])
            px = project(seen_by, view, point_m)
            if rng is not None:
                px = px + rng.normal(0, noise_px, 2)
            marks.append(LaneMark(distance_m, (float(px[0]), float(px[1])), row))
    given: dict[str, object] = {
        "marks": tuple(marks), "course_m": DISTANCES_M[1:], "athlete_offset_m": 0.5,
        "row_spacing_m": 1.5 if far else None, "phone_distance_m": float(seen_by[6]),
    }  # fmt: skip
    return LaneSurvey(**(given | changes))  # type: ignore[arg-type]


def hips_px(seen_by: Floats, distance_m: Floats, *, view: LaneView = VIEW, slope: float = 0.0,
            offset_m: float = 0.5, height_m: float = 0.9) -> Floats:  # fmt: skip
    """Where hips vertically above places on the runner's line appear."""
    lean = math.atan(slope)
    along_m = distance_m + height_m * math.sin(lean)
    square_m = np.full(distance_m.shape, height_m * math.cos(lean))
    depth_m = np.full(distance_m.shape, offset_m)
    return project(seen_by, view, np.stack([along_m, square_m, depth_m], axis=-1))
