"""How much a lane climbs, from things beside it that stand upright: posts, door frames, walls."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_camera import LaneView, see_rays
from calibration.lane_values import Lane, Upright
from calibration.values import Estimate, Refused

__all__ = ["measure_slope"]

Floats = NDArray[np.float64]

SHORTEST_PX = 60.0
"""Of an upright thing: ends a pixel off are then a degree."""
END_SIGMA_PX = 1.0
LEAN_SIGMA_RAD = math.radians(0.3)
"""How upright a post or a wall is."""
CROOKED_SIGMAS = 4.0
STEP_SIGMAS = 1e-3


@dataclass(frozen=True, slots=True)
class _Climb:
    angle_rad: float
    sigma_rad: float


def measure_slope(lane: Lane) -> Estimate | Refused:
    """Measure the slope of a fitted lane, rise per hundred.

    Parameters
    ----------
    lane : Lane
        Fitted without a belief in the phone's roll; its survey has upright things.

    Returns
    -------
    Estimate or Refused
        Positive where greater distances lie higher. Refused where the things are too short in the
        picture or do not agree.

    Notes
    -----
    An upright thing and the eye span a plane in which up lies: n · up = 0 with n across both rays.
    With up = cos s (square to the ground) + sin s (along the lane), tan s = − n_square / n_along.
    *Wrong* where the ground also climbs away from the phone, by the thing's share of the picture
    off the middle.
    """
    climbs: list[_Climb] = []
    for upright in lane.survey.uprights_px:
        if math.dist(*upright) < SHORTEST_PX:
            return _refused(
                f"An upright thing is only {math.dist(*upright):.0f} pixels tall",
                "Mark taller ones.",
            )
        climbs.append(_climb(lane, upright))
    weight = np.array([climb.sigma_rad**-2 for climb in climbs])
    angle_rad = np.array([climb.angle_rad for climb in climbs])
    mean_rad = float(np.average(angle_rad, weights=weight))
    if np.any(np.abs(angle_rad - mean_rad) * np.sqrt(weight) > CROOKED_SIGMAS):
        apart_deg = math.degrees(np.ptp(angle_rad))
        return _refused(
            f"The upright things lean by {apart_deg:.1f} degrees against each other",
            "Mark only what surely stands upright.",
        )
    shared_rad = _camera_sigma_rad(lane)
    sigma_rad = float(np.hypot(1 / math.sqrt(weight.sum()), shared_rad))
    return Estimate(100 * math.tan(mean_rad), 100 * sigma_rad / math.cos(mean_rad) ** 2)


def _climb(lane: Lane, upright: Upright) -> _Climb:
    px = np.array(upright, dtype=np.float64)
    angle_rad = _angle_rad(lane, lane.camera, px)
    across = px[1] - px[0]
    aside = np.array([-across[1], across[0]]) / np.hypot(*across)
    turned = px + np.array([[-0.5], [0.5]]) * aside
    by_px = abs(_angle_rad(lane, lane.camera, turned) - angle_rad)
    ends_rad = by_px * END_SIGMA_PX * math.sqrt(2)
    return _Climb(angle_rad, math.hypot(ends_rad, LEAN_SIGMA_RAD))


def _angle_rad(lane: Lane, camera: Floats, px: Floats) -> float:
    view = LaneView(lane.width_px, lane.height_px, lane.direction)
    low, high = see_rays(camera, view, px)
    along, square, _ = np.cross(low, high)
    return math.atan(-square / (lane.direction * along))


def _camera_sigma_rad(lane: Lane) -> float:
    """Of the mean, by the fitted camera's doubt."""
    ends_px = [np.array(upright, dtype=np.float64) for upright in lane.survey.uprights_px]
    by_number = []
    for index, sigma in enumerate(np.sqrt(np.diag(lane.covariance))):
        step = np.zeros(lane.camera.size)
        step[index] = sigma * STEP_SIGMAS
        ahead, behind = (
            np.mean([_angle_rad(lane, lane.camera + sign * step, px) for px in ends_px])
            for sign in (1, -1)
        )
        by_number.append((ahead - behind) / (2 * step[index]))
    by_camera = np.array(by_number)
    return math.sqrt(float(by_camera @ lane.covariance @ by_camera))


def _refused(seen: str, hint: str) -> Refused:
    return Refused("lane", f"{seen}; they tell no slope.", f"{hint} Or give slope_pct.")
