"""Runs with a known answer."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from measure.sprint.feet import FeetPath
from measure.sprint.path import HipPath
from measure.sprint.speed import distance_after

Floats = NDArray[np.float64]
START_S, REST_M = 1.0, -0.75


def sprint_m(time_s: Floats, *, speed_mps: float = 7.4, constant_s: float = 1.1) -> Floats:
    """A sprint from rest: at rest until `START_S`, then by the speed curve."""
    since_s = np.maximum(time_s - START_S, 0)
    return REST_M + distance_after(since_s, max_speed_mps=speed_mps, time_constant_s=constant_s)


def path_of(time_s: Floats, distance_m: Floats, *, profile: float = 1.0) -> HipPath:
    """A hip path as it is read from a runner seen from the side."""
    even = np.ones_like(time_s)
    return HipPath(time_s, distance_m, 0.9 * even, profile * even, 0.5)


def running_feet(
    time_s: Floats, hips_m: Floats, *, frequency_hz: float, from_s: float, swapped: bool = False
) -> FeetPath:
    """Feet that swing about the hips, one step each half swing; named wrongly now and then."""
    swing = 0.45 * np.sin(np.pi * frequency_hz * (time_s - from_s))
    left, right = hips_m + swing, hips_m - swing
    wrong = np.arange(time_s.size) % 5 == 0 if swapped else np.zeros(time_s.size, bool)
    level = np.zeros_like(time_s)
    return FeetPath(
        time_s,
        {"left": np.where(wrong, right, left), "right": np.where(wrong, left, right)},
        {"left": level, "right": level}, {"left": level, "right": level},
    )  # fmt: skip
