"""When the hip centre passes each mark, in the order of the course."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.local import LocalFit, fit_locally
from measure.sprint.path import HipPath

__all__ = ["Crossing", "CrossingSettings", "Crossings", "time_crossings"]

Floats = NDArray[np.float64]
SMOOTH_POINTS = 5
AGAIN_S = 0.2
"""A mark that is to be passed twice in a row is not passed again sooner."""
FEW_MISSED, MANY_MISSED = 0.2, 0.4
"""Shares of the pictures about a mark in which the model makes out no body."""
SLOWEST_MPS = 0.5
"""Below this speed a mark is not crossed but dwelt upon."""


@dataclass(frozen=True, slots=True)
class CrossingSettings:
    """How crossings are timed, and what a hip read off a picture is worth."""

    half_width_s: float = 0.3
    hip_sigma_m: float = 0.005
    """Of the model's forward offset, common to all marks of a run."""
    wander_share: float = 1.6
    """The hips of a pose wander about the way of the body over some steps; at a mark they are off
    by so many times what is left of that wander beside a smooth way."""
    facing_sigma_m: float = 0.014
    """More of both where the body faces the camera."""
    unsure_sigma_m: float = 0.08
    """More where the model misses many pictures: what it reads then it reads badly (drawn runners
    in the colours of the hedge behind them: up to 14 cm)."""
    clock_sigma_s: float = 0.0005


@dataclass(frozen=True, slots=True)
class Crossing:
    """One mark passed."""

    distance_m: float
    time_s: float
    sigma_s: float
    speed_mps: float
    """Negative towards smaller distances."""


@dataclass(frozen=True, slots=True)
class Crossings:
    """All marks that were passed, in order, with what their doubts share."""

    marks: tuple[Crossing, ...]
    covariance_s2: Floats
    """Of the times, shape (M, M): splits take their doubt from here."""
    refusals: tuple[Refused, ...]
    """One for each mark that was not timed."""


def time_crossings(
    path: HipPath, course_m: tuple[float, ...], *, lane_covariance_m2: Floats,
    settings: CrossingSettings | None = None,
) -> Crossings:  # fmt: skip
    """Time each mark of a course.

    Parameters
    ----------
    path : HipPath
    course_m : tuple of float
        Distances in the order they are to be passed.
    lane_covariance_m2 : ndarray of shape (M, M)
        Doubt of places at these distances.
    settings : CrossingSettings, optional

    Returns
    -------
    Crossings
        A mark that is not reached, or is reached unseen, is among the refusals; later ones are
        still looked for after the last that was found.
    """
    settings = settings or CrossingSettings()
    found: list[tuple[int, float, LocalFit]] = []
    refusals: list[Refused] = []
    after_s, last_m = -np.inf, np.nan
    for index, mark_m in enumerate(course_m):
        again_s = AGAIN_S if mark_m == last_m else 0.0
        passed = _pass(path, mark_m, after_s + again_s, settings)
        if isinstance(passed, Refused):
            refusals.append(passed)
        else:
            found.append((index, *passed))
            after_s, last_m = passed[0], mark_m
    covariance = _covariance(path, found, lane_covariance_m2, settings)
    marks = tuple(
        Crossing(course_m[index], time_s, float(np.sqrt(covariance[k, k])), fit.slope)
        for k, (index, time_s, fit) in enumerate(found)
    )
    return Crossings(marks, covariance, tuple(refusals))


def _pass(
    path: HipPath, mark_m: float, after_s: float, settings: CrossingSettings
) -> tuple[float, LocalFit] | Refused:
    what = f"mark {mark_m:g} m"
    rough_s = _rough_crossing(path, mark_m, after_s)
    if rough_s is None:
        return _not_reached(path, mark_m, what)
    time_s = rough_s
    fit = None
    for _ in range(6):
        fit = fit_locally(
            path.time_s, path.distance_m, at_s=time_s, half_width_s=settings.half_width_s
        )
        if fit is None or abs(fit.slope) < SLOWEST_MPS:
            break
        time_s -= float(np.clip((fit.value - mark_m) / fit.slope, -0.1, 0.1))
    if fit is None:
        return Refused(
            what, f"The runner is not seen while passing {mark_m:g} m.",
            "Film the mark with some room about it, and with nobody in front.",
        )  # fmt: skip
    if abs(fit.slope) < SLOWEST_MPS:
        return Refused(
            what, f"The runner stands at {mark_m:g} m rather than passing it.",
            "Put the mark where it is run through, or name another distance.",
        )  # fmt: skip
    return time_s, fit


def _rough_crossing(path: HipPath, mark_m: float, after_s: float) -> float | None:
    """First passage of the smoothed path from the side on which it is."""
    kernel = np.ones(SMOOTH_POINTS) / SMOOTH_POINTS
    if path.time_s.size < SMOOTH_POINTS:
        return None
    smooth = np.convolve(np.pad(path.distance_m, SMOOTH_POINTS // 2, "edge"), kernel, "valid")
    side = np.sign(smooth - mark_m)
    turns = np.flatnonzero((side[:-1] != side[1:]) & (path.time_s[1:] > after_s))
    for k in turns:
        change = smooth[k + 1] - smooth[k]
        share = (mark_m - smooth[k]) / change if change else 0.5
        time_s = float(path.time_s[k] + share * (path.time_s[k + 1] - path.time_s[k]))
        if time_s > after_s:
            return time_s
    return None


def _not_reached(path: HipPath, mark_m: float, what: str) -> Refused:
    if path.time_s.size == 0:
        seen = "The runner is nowhere seen."
    else:
        low_m, high_m = float(path.distance_m.min()), float(path.distance_m.max())
        again = " once more in the order of the course" if low_m < mark_m < high_m else ""
        seen = (
            f"The runner is seen between {low_m:.1f} and {high_m:.1f} m and does not pass "
            f"{mark_m:g} m{again}."
        )
    return Refused(what, seen, "Film until a few metres after the last mark; check the lane file.")


def _covariance(
    path: HipPath, found: list[tuple[int, float, LocalFit]], lane_m2: Floats,
    settings: CrossingSettings,
) -> Floats:  # fmt: skip
    rows = [index for index, _, _ in found]
    if not rows:
        return np.zeros((0, 0))
    speed = np.array([fit.slope for _, _, fit in found])
    frontal = 1 - np.interp([time_s for _, time_s, _ in found], path.time_s, path.profile)
    unsure = np.array([_unsure(path, at_s, settings.half_width_s) for _, at_s, _ in found])
    wander_m = np.array([path.wander_m(time_s) for _, time_s, _ in found])
    own_m = np.linalg.norm([
        settings.wander_share * wander_m, settings.hip_sigma_m * frontal,
        settings.facing_sigma_m * frontal, settings.unsure_sigma_m * unsure,
    ], axis=0)  # fmt: skip
    spread_m = np.array([fit.value_sigma for _, _, fit in found])
    metres = lane_m2[np.ix_(rows, rows)] + np.diag(own_m**2 + spread_m**2)
    seconds = metres / np.outer(speed, speed)
    # What lies ahead of a body that faces the camera is no error along the lane.
    ahead_s = settings.hip_sigma_m * (1 - frontal) / np.abs(speed)
    clock = settings.clock_sigma_s**2 * np.eye(len(rows))
    return np.asarray(seconds + np.outer(ahead_s, ahead_s) + clock)


def _unsure(path: HipPath, at_s: float, half_width_s: float) -> float:
    """0 where the body is made out in nearly every picture, 1 where it is missed in many."""
    missed = 1 - path.seen_share(at_s - half_width_s, at_s + half_width_s)
    return float(np.clip((missed - FEW_MISSED) / (MANY_MISSED - FEW_MISSED), 0, 1))
