"""The highest speed of the hips over a stride."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import lane_covariance_m2
from calibration.lane_values import Lane
from calibration.values import Estimate, Refused
from measure.sprint.local import fit_columns, fit_locally
from measure.sprint.path import HipPath

__all__ = ["TopSpeed", "read_top_speed"]

Floats = NDArray[np.float64]
HALF_WIDTH_S = 0.4
EVERY_S = 0.05
EDGE_S = 0.2
"""Nearer to the path's ends a slope is not read."""
POSE_SIGMA_MPS = 0.028
"""Of the pose's wander over a stride."""
GAIN_S = 1.6
"""Before the end of what is seen: about seven steps, from which a gain that fades is read."""
GAIN_CONSTANT_S, GAIN_CONSTANT_SIGMA_S = 1.1, 0.2
"""With which a runner's gain fades: 0.9 to 1.4 s for sprinters and players (the tables that test
`fit_speed_curve`)."""
TOGETHER_S = 0.05
"""Poses nearer than this say the same thing: at 30 per second what the model puts the hips wrong
by is alike by 0.3 from one pose to the next, and no longer from the second."""
LEAST_SEEN_SHARE = 0.7
"""Of the usual poses; where the model misses more it also reads the others badly."""


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
    average out. A slope cannot be read that way at the very end of what is seen; where the runner
    still gains there, V − B e^(−t/1.1 s) is fitted to the last 1.6 s and read at its end. *Wrong*
    for the top of a longer sprint: it is the highest that was filmed.
    """
    nowhere = Refused(
        "max_speed_mps", "The runner is seen for too short a time, or not clearly enough.",
        "Film the whole run from before the start to after the last mark, in clothes that stand "
        "out from what is behind.",
    )  # fmt: skip
    if path.time_s.size < 8 or not _is_seen(path, path.time_s[0], path.time_s[-1]):
        return nowhere
    moments_s = np.arange(path.time_s[0] + EDGE_S, path.time_s[-1] - EDGE_S, EVERY_S)
    read = [
        (abs(fit.slope), fit.value, float(at_s))
        for at_s in moments_s
        if _is_seen(path, at_s - HALF_WIDTH_S, at_s + HALF_WIDTH_S)
        and (fit := fit_locally(
            path.time_s, path.distance_m, at_s=at_s, half_width_s=HALF_WIDTH_S
        )) is not None
    ]  # fmt: skip
    if not read:
        return nowhere
    speed_mps, place_m, at_s = max(read)
    gaining = _read_gaining(path) if at_s > path.time_s[-1] - GAIN_S else None
    own_sigma_mps = POSE_SIGMA_MPS
    if gaining is not None:
        speed_mps, place_m, at_s = gaining.speed_mps.value, gaining.distance_m, gaining.time_s
        own_sigma_mps = gaining.speed_mps.sigma
    half_m = speed_mps * HALF_WIDTH_S / 2
    covariance = lane_covariance_m2(lane, np.array([place_m - half_m, place_m + half_m]))
    stretch = float(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1]) ** 0.5
    wander_m = path.wander_m(min(at_s, path.time_s[-1] - GAIN_S / 2))
    sigma_mps = float(np.linalg.norm(
        [stretch / HALF_WIDTH_S, own_sigma_mps, wander_m / HALF_WIDTH_S]
    ))  # fmt: skip
    return TopSpeed(Estimate(speed_mps, sigma_mps), place_m, at_s)


def _is_seen(path: HipPath, from_s: float, until_s: float) -> bool:
    return path.seen_share(from_s, until_s) > LEAST_SEEN_SHARE


def _read_gaining(path: HipPath) -> TopSpeed | None:
    """Speed at the end of what is seen of a runner who still gains there."""
    end_s = float(path.time_s[-1])
    since_s = path.time_s - end_s
    late = since_s > -GAIN_S
    if since_s[0] > -GAIN_S or not _is_seen(path, end_s - GAIN_S, end_s):
        return None
    since_s, places_m = since_s[late], path.distance_m[late]
    usual = _end_speed(since_s, places_m, GAIN_CONSTANT_S)
    if usual is None:
        return None
    faster, slower = (
        _end_speed(since_s, places_m, GAIN_CONSTANT_S + sign * GAIN_CONSTANT_SIGMA_S)
        for sign in (-1, 1)
    )
    by_constant = (slower or usual).value - (faster or usual).value
    sigma_mps = float(np.hypot(usual.sigma, by_constant / 2))
    return TopSpeed(
        Estimate(usual.value, sigma_mps), float(path.distance_m[-1]), end_s
    )


def _end_speed(since_s: Floats, places_m: Floats, constant_s: float) -> Estimate | None:
    """Speed at the last moment; None where the runner does not gain."""
    fading = np.exp(-since_s / constant_s)
    fit = fit_columns(np.stack([np.ones_like(since_s), since_s, fading], axis=-1), places_m)
    _, final_mps, gain_m = fit.solution
    if gain_m * final_mps <= 0:
        return None
    interval_s = float(np.median(np.diff(since_s)))
    alike = max(1.0, TOGETHER_S / interval_s) ** 0.5
    speed_mps = abs(final_mps - gain_m / constant_s)
    return Estimate(float(speed_mps), alike * fit.sigma(np.array([0.0, 1.0, -1 / constant_s])))
