"""Steps of a run: by the stands of the feet, or from their spread, which opens once a step.

The spread does not ask which foot is which, so the model's mixing up of the legs in profile
does no harm.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calibration.values import Estimate, Refused
from measure.sprint.feet import FeetPath
from measure.sprint.path import HipPath
from measure.sprint.stands import Stand

__all__ = ["Steps", "find_steps", "steps_from_stands"]

Floats = NDArray[np.float64]

LEAST_SEEN_SHARE = 0.7
"""Of the usual poses; between fewer whole steps go by unseen."""
SHORTEST_STEP_S = 0.15
LEAST_OPENING = 0.3
"""Of the usual opening of the feet: less is the pose's own trembling."""
MOST_HIDDEN_SHARE = 0.2
"""Of the steps may be hidden in gaps twice as long as the usual one."""
FEWEST_STEPS = 4
MOST_UNEVEN = 0.35
"""Of a step: gaps that are no whole number of steps show that something else was taken for one."""
PERIOD_SIGMA_S = 0.018
"""Of each end of the row of steps."""
PLACE_SIGMA_M = 0.05
"""Of where a foot stands, heel or toe, at each end of the row."""


@dataclass(frozen=True, slots=True)
class Steps:
    """The steps of a run between two moments."""

    time_s: Floats
    """When the feet pass each other, about the middle of each stand, shape (N,)."""
    distance_m: Floats
    """Where the hips are then, shape (N,)."""
    length_m: Estimate
    """Mean over the steps between the first and the last stand."""
    frequency_hz: Estimate
    count: int
    """Hidden ones among the others counted."""


def find_steps(feet: FeetPath, path: HipPath, *, from_s: float, until_s: float) -> Steps | Refused:
    """Count the steps of a run.

    Parameters
    ----------
    feet : FeetPath
    path : HipPath
    from_s, until_s : float
        The run.

    Returns
    -------
    Steps or Refused
        Refused where a step is missing among the others.

    Notes
    -----
    *Wrong* where the feet are hidden, behind grass or by another person.
    """
    from scipy.signal import find_peaks  # slow to import, and no jump needs it

    run = (feet.time_s >= from_s) & (feet.time_s <= until_s)
    time_s = feet.time_s[run]
    spread = np.abs(feet.distance_m["left"] - feet.distance_m["right"])[run]
    if time_s.size < 8 or path.seen_share(from_s, until_s) < LEAST_SEEN_SHARE:
        return _refused("Too little of the run is seen.")
    interval_s = float(np.median(np.diff(time_s)))
    kernel = np.hanning(2 * max(1, round(0.05 / interval_s)) + 3)[1:-1]
    smooth = np.convolve(np.pad(spread, kernel.size // 2, "edge"), kernel / kernel.sum(), "valid")
    opening = float(np.percentile(smooth, 90) - np.percentile(smooth, 10))
    widest, _ = find_peaks(
        smooth, distance=max(1, round(SHORTEST_STEP_S / interval_s)),
        prominence=LEAST_OPENING * opening,
    )  # fmt: skip
    passing = [a + int(np.argmin(smooth[a:b])) for a, b in pairwise(widest)]
    if len(passing) < FEWEST_STEPS:
        return _refused("Fewer than four steps are seen.")
    gaps_s = np.diff(time_s[widest])
    count = float(np.rint(gaps_s / np.median(gaps_s)).sum())
    if count > gaps_s.size * (1 + MOST_HIDDEN_SHARE) or gaps_s.min() < 0.5 * np.median(gaps_s):
        return _refused("Too many steps are hidden among the others.")
    # The widest opening is smooth where the passing is a corner: its times carry the rate.
    ends_s = [_peak_s(time_s, smooth, row) for row in (widest[0], widest[-1])]
    rate_hz = count / (ends_s[1] - ends_s[0])
    span_s = float(time_s[widest[-1]] - time_s[widest[0]])
    places_m = np.interp(time_s[widest[[0, -1]]], path.time_s, path.distance_m)
    share = PERIOD_SIGMA_S * np.sqrt(2) / span_s
    length_m = float(np.abs(np.diff(places_m))[0]) / (span_s * rate_hz)
    when_s = time_s[passing]
    return Steps(
        when_s, np.interp(when_s, path.time_s, path.distance_m),
        Estimate(length_m, length_m * share), Estimate(float(rate_hz), float(rate_hz) * share),
        when_s.size,
    )  # fmt: skip


def steps_from_stands(stands: tuple[Stand, ...], path: HipPath) -> Steps | Refused:
    """Count the steps of a run by the stands of its feet.

    Parameters
    ----------
    stands : tuple of Stand
        Of the run, by time; single ones may be hidden.
    path : HipPath

    Returns
    -------
    Steps or Refused
        Refused where too many stands are hidden to count the gaps between them.
    """
    if len(stands) < FEWEST_STEPS:
        return _refused("Fewer than four steps are seen.")
    stands = _without_flicker(stands)
    touches_s = np.array([stand.start.time_s for stand in stands])
    places_m = np.array([stand.distance_m for stand in stands])
    gaps_s = np.diff(touches_s)
    usual_s = float(np.median(gaps_s[gaps_s < 1.5 * gaps_s.min()]))
    steps = gaps_s / usual_s
    count = float(np.rint(steps).sum())
    uneven = np.abs(steps - np.rint(steps)).max() > MOST_UNEVEN
    if count > gaps_s.size * (1 + MOST_HIDDEN_SHARE) or gaps_s.min() < SHORTEST_STEP_S or uneven:
        return _refused("Too many steps are hidden among the others.")
    span_s = float(touches_s[-1] - touches_s[0])
    rate_hz, length_m = count / span_s, float(abs(places_m[-1] - places_m[0])) / count
    ends_s = [stand.start.sigma_s for stand in (stands[0], stands[-1])]
    share = float(np.linalg.norm([*ends_s, PERIOD_SIGMA_S])) / span_s
    middle_s = np.array([(stand.start.time_s + stand.end.time_s) / 2 for stand in stands])
    return Steps(
        middle_s, np.interp(middle_s, path.time_s, path.distance_m),
        Estimate(length_m, float(np.hypot(PLACE_SIGMA_M / count, length_m * share / 4))),
        Estimate(rate_hz, rate_hz * share), int(count) + 1,
    )  # fmt: skip


def _without_flicker(stands: tuple[Stand, ...]) -> tuple[Stand, ...]:
    """Leave out what comes sooner after a step than the next one can: a cone's edge, a shadow.

    Of two such stands the one stays whose distances in time to its neighbours are more even.
    """
    usual_s = float(np.median(np.diff([stand.start.time_s for stand in stands])))
    kept = list(stands)
    k = 0
    while k + 1 < len(kept):
        if kept[k + 1].start.time_s - kept[k].start.time_s > SHORTEST_STEP_S:
            k += 1
            continue
        first, second = (
            _unevenness([*kept[:row], *kept[row + 1 :]], k, usual_s) for row in (k, k + 1)
        )
        del kept[k if first < second else k + 1]
        k = max(0, k - 1)
    return tuple(kept)


def _unevenness(stands: list[Stand], row: int, usual_s: float) -> float:
    """How far the gaps about a stand are from whole steps."""
    near = stands[max(0, row - 1) : row + 2]
    steps = np.diff([stand.start.time_s for stand in near]) / usual_s
    return float(np.abs(steps - np.rint(steps)).sum())


def _peak_s(time_s: Floats, values: Floats, row: int) -> float:
    """Top of the parabola through three points."""
    before, at, after = values[row - 1 : row + 2]
    bend = before - 2 * at + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float(time_s[row] + shift * (time_s[row + 1] - time_s[row]))


def _refused(reason: str) -> Refused:
    return Refused(
        "steps", reason, "Film from the side in good light, at 60 pictures per second or more."
    )
