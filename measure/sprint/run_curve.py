"""The speed curve of one filmed run, from the smoothed hip path."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.values import Estimate, Refused
from measure.sprint.local import fit_locally
from measure.sprint.path import HipPath
from measure.sprint.speed import SpeedCurve, fit_speed_curve

__all__ = ["fit_run_curve"]

FROM_S = 0.5
"""After the start: the first half second is a push with both feet, not a run."""
EVERY_S = 0.2
"""Nearer points of a smoothed path say the same thing twice."""
HALF_WIDTH_S = 0.3
EDGE_S = 0.15
REST_SIGMA_M = 0.10
"""Of where the hips were at rest: a body folded over its hands is read badly."""


def fit_run_curve(path: HipPath, *, start_s: float) -> SpeedCurve | Refused:
    """Fit v(t) = V (1 − e^(−t/τ)) to a run from rest.

    Parameters
    ----------
    path : HipPath
    start_s : float
        The first movement.

    Returns
    -------
    SpeedCurve or Refused
        The doubt holds the scatter and that of the place of rest.
    """
    moments_s = np.arange(start_s + FROM_S, path.time_s[-1] - EDGE_S, EVERY_S)
    fits = [
        (float(at_s), fit)
        for at_s in moments_s
        if (fit := fit_locally(
            path.time_s, path.distance_m, at_s=float(at_s), half_width_s=HALF_WIDTH_S
        ))
    ]  # fmt: skip
    time_s = np.array([at_s - start_s for at_s, _ in fits])
    places_m = np.array([fit.value for _, fit in fits])
    resting = path.distance_m[path.time_s <= start_s]
    rest_m = float(np.median(resting)) if resting.size else float(path.distance_m[0])
    if places_m.size == 0:
        return fit_speed_curve(time_s, places_m)
    away_m = np.abs(places_m - rest_m)
    curve = fit_speed_curve(time_s, away_m)
    farther = fit_speed_curve(time_s, away_m + REST_SIGMA_M)
    if isinstance(curve, Refused) or isinstance(farther, Refused):
        return curve if isinstance(curve, Refused) else farther
    return replace(
        curve,
        max_speed_mps=_wider(curve.max_speed_mps, farther.max_speed_mps),
        time_constant_s=_wider(curve.time_constant_s, farther.time_constant_s),
        offset_s=_wider(curve.offset_s, farther.offset_s),
        shared_m=curve.shared_m
        + (farther.max_speed_mps.value - curve.max_speed_mps.value)
        * (farther.time_constant_s.value - curve.time_constant_s.value),
    )


def _wider(found: Estimate, moved: Estimate) -> Estimate:
    return Estimate(found.value, float(np.hypot(found.sigma, moved.value - found.value)))
