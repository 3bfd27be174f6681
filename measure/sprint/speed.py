"""A sprint's speed curve v(t) = V (1 − e^(−t/τ)) from times at distances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Estimate, Refused

__all__ = ["SpeedCurve", "distance_after", "fit_speed_curve", "time_at"]

Floats = NDArray[np.float64]

NEWTON_ROUNDS = 60
TIME_CONSTANTS_S = (0.2, 4.0)
"""Outside these no runner accelerates; a fit that ends there says that the data do not decide."""


@dataclass(frozen=True, slots=True)
class SpeedCurve:
    """One sprint as three numbers."""

    max_speed_mps: Estimate
    """V, which the curve approaches and a short sprint does not reach."""
    time_constant_s: Estimate
    """τ: after this time 63 % of V."""
    offset_s: Estimate
    """When the curve starts from rest, on the clock of the times that were given. Published work
    calls it the time correction; it is negative where the body moves before the clock starts."""
    rms_s: float
    """Of the residuals."""
    shared_m: float = 0.0
    """Covariance of V and τ, metres per second times seconds: a larger V goes with a larger τ."""


def distance_after(time_s: Floats, *, max_speed_mps: float, time_constant_s: float) -> Floats:
    """Distance covered since the start: x = V (t − τ (1 − e^(−t/τ)))."""
    grown = -np.expm1(-np.asarray(time_s) / time_constant_s)
    return np.asarray(max_speed_mps * (time_s - time_constant_s * grown))


def time_at(distance_m: Floats, *, max_speed_mps: float, time_constant_s: float) -> Floats:
    """Time to cover a distance from rest; the inverse of `distance_after`.

    Parameters
    ----------
    distance_m : ndarray
        Not negative.
    max_speed_mps, time_constant_s : float

    Returns
    -------
    ndarray
        Seconds.
    """
    distance_m = np.asarray(distance_m, dtype=np.float64)
    # From beyond: x is convex, so Newton's steps stay on that side.
    time_s = distance_m / max_speed_mps + time_constant_s
    for _ in range(NEWTON_ROUNDS):
        covered = distance_after(
            time_s, max_speed_mps=max_speed_mps, time_constant_s=time_constant_s
        )
        speed = -max_speed_mps * np.expm1(-time_s / time_constant_s)
        time_s = np.maximum(time_s - (covered - distance_m) / np.maximum(speed, 1e-9), 0)
    return time_s


def fit_speed_curve(
    time_s: Floats, distance_m: Floats, *, offset: bool = True, time_sigma_s: float | None = None
) -> SpeedCurve | Refused:
    """Fit the curve to the times at which distances are reached.

    Parameters
    ----------
    time_s, distance_m : ndarray of shape (N,)
        Distances from where the body was at rest.
    offset : bool
        Also fit when the curve starts. Without it the clock must start with the body.
    time_sigma_s : float, optional
        Of each time. By default the scatter about the curve says it.

    Returns
    -------
    SpeedCurve or Refused
        Refused with too few distances, or where they do not tell the three numbers apart.

    Notes
    -----
    Offset: Vescovi and Jovanović 2021, doi:10.3389/fspor.2021.629694. *Wrong* once an athlete
    slows down; V of a short sprint is an extrapolation and its sigma says how far.
    """
    names = 3 if offset else 2
    if time_s.size < names + 1:
        return _refused(f"Only {time_s.size} times are known; the curve needs {names + 1}.")
    early, late = np.argsort(time_s)[[-2, -1]]
    last_mps = float((distance_m[late] - distance_m[early]) / (time_s[late] - time_s[early]))

    from scipy.optimize import least_squares  # slow to import, and no jump needs it

    def misses_s(numbers: Floats) -> Floats:
        begins_s = numbers[2] if offset else 0.0
        curve_s = time_at(distance_m, max_speed_mps=numbers[0], time_constant_s=numbers[1])
        return np.asarray(begins_s + curve_s - time_s)

    low_s, high_s = TIME_CONSTANTS_S
    start = [max(last_mps, 0.5) * 1.05, 1.0, 0.0][:names]
    bounds = [0.1, low_s, -3.0][:names], [20.0, high_s, np.inf][:names]
    fit = least_squares(misses_s, start, bounds=bounds, x_scale=[1, 0.3, 0.3][:names], xtol=1e-12)
    if not low_s * 1.01 < fit.x[1] < high_s * 0.99:
        return _refused("The times fit no sprint from rest: speed grows too fast or not at all.")
    free = time_s.size - names
    variance = time_sigma_s**2 if time_sigma_s else float(np.sum(fit.fun**2)) / free
    covariance = np.linalg.inv(fit.jac.T @ fit.jac) * variance
    numbers = [
        Estimate(float(value), float(np.sqrt(covariance[k, k]))) for k, value in enumerate(fit.x)
    ]
    begins = numbers[2] if offset else Estimate(0.0, 0.0)
    rms_s = float(np.sqrt(np.mean(fit.fun**2)))
    return SpeedCurve(numbers[0], numbers[1], begins, rms_s, float(covariance[0, 1]))


def _refused(reason: str) -> Refused:
    return Refused(
        "time_constant_s", reason, "Film the run from the set position over at least four marks."
    )
