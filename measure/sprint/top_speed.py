"""The highest speed of the hips over a stride."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import lane_covariance_m2
from calibration.lane_values import Lane
from calibration.values import Estimate, Refused
from measure.sprint.local import LocalFit, fit_locally
from measure.sprint.path import HipPath

__all__ = ["TopSpeed", "read_top_speed"]

Floats = NDArray[np.float64]
HALF_WIDTH_S = 0.4
EVERY_S = 0.05
EDGE_S = 0.2
"""Nearer to the path's ends a slope is not read."""
POSE_SIGMA_MPS = 0.028
"""Of the pose's wander over a stride."""
GAIN_S = 0.5
"""Over which a runner's gain is read."""
STILL_GAINING_S = 0.35
"""A top so near to the end of what is seen is not the top: the runner still gains there."""
GAIN_SHARE = 0.5
"""Of what the gain would add until the end of what is seen: it is about to fade. As much again is
its doubt."""


@dataclass(frozen=True, slots=True)
class TopSpeed:
    """The highest speed and where it was reached."""

    speed_mps: Estimate
    distance_m: float
    time_s: float


def read_top_speed(path: HipPath, lane: Lane) -> TopSpeed | Refused:
    """Find the steepest part of a hip path.

    Parameters
    ----------
    path : HipPath
    lane : Lane

    Returns
    -------
    TopSpeed or Refused

    Notes
    -----
    The slope of parabolas over 0.8 s, about three steps: the push and brake of single steps
    average out. A slope cannot be read at the very end of what is seen; where the runner still
    gains there, half of that gain is added. *Wrong* for the top of a longer sprint: it is the
    highest that was filmed.
    """
    nowhere = Refused(
        "max_speed_mps", "The runner is seen for too short a time.",
        "Film the whole run from before the start to after the last mark.",
    )  # fmt: skip
    if path.time_s.size < 8:
        return nowhere
    moments_s = np.arange(path.time_s[0] + EDGE_S, path.time_s[-1] - EDGE_S, EVERY_S)
    read = [
        (abs(fit.slope), fit.value, float(at_s))
        for at_s in moments_s
        if (fit := _fit(path, at_s)) is not None
    ]
    if not read:
        return nowhere
    speed_mps, place_m, at_s = max(read)
    half_m = speed_mps * HALF_WIDTH_S / 2
    covariance = lane_covariance_m2(lane, np.array([place_m - half_m, place_m + half_m]))
    stretch = float(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]) ** 0.5
    more_mps = GAIN_SHARE * _unread_gain_mps(path, speed_mps, at_s)
    sigma_mps = float(np.linalg.norm([stretch / HALF_WIDTH_S, POSE_SIGMA_MPS, more_mps]))
    return TopSpeed(Estimate(speed_mps + more_mps, sigma_mps), place_m, at_s)


def _fit(path: HipPath, at_s: float) -> LocalFit | None:
    return fit_locally(path.time_s, path.distance_m, at_s=at_s, half_width_s=HALF_WIDTH_S)


def _unread_gain_mps(path: HipPath, speed_mps: float, at_s: float) -> float:
    """What a runner who gains as before adds until the end of what is seen."""
    left_s = float(path.time_s[-1]) - at_s
    before = _fit(path, at_s - GAIN_S)
    if before is None or left_s > STILL_GAINING_S:
        return 0.0
    return max(0.0, speed_mps - abs(before.slope)) / GAIN_S * left_s
