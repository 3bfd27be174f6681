"""Times between marks, with doubts that know what neighbouring marks share."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from calibration.values import Estimate
from measure.sprint.crossings import Crossings
from measure.types import Instant

__all__ = ["Split", "change_of_direction_deficit_s", "time_splits"]


@dataclass(frozen=True, slots=True)
class Split:
    """From one mark of the course to the next."""

    from_m: float | None
    """None for the start, wherever the body was at rest."""
    to_m: float
    time_s: float
    sigma_s: float
    mean_speed_mps: float | None
    """None for the first split: how far the hips were from the first mark is not its length."""


def time_splits(crossings: Crossings, start: Instant | None) -> tuple[Split, ...]:
    """Take the differences of a course's times.

    Parameters
    ----------
    crossings : Crossings
    start : Instant or None
        Without one the splits begin at the first mark.

    Returns
    -------
    tuple of Split
    """
    marks = crossings.marks
    splits = []
    if start is not None and marks:
        sigma_s = float(np.hypot(start.sigma_s, marks[0].sigma_s))
        time_s = marks[0].time_s - start.time_s
        splits.append(Split(None, marks[0].distance_m, time_s, sigma_s, None))
    covariance = crossings.covariance_s2
    for k, (before, after) in enumerate(pairwise(marks)):
        variance = covariance[k, k] + covariance[k + 1, k + 1] - 2 * covariance[k, k + 1]
        time_s = after.time_s - before.time_s
        mean_mps = abs(after.distance_m - before.distance_m) / time_s
        splits.append(Split(
            before.distance_m, after.distance_m, time_s, float(np.sqrt(max(variance, 0))), mean_mps
        ))  # fmt: skip
    return tuple(splits)


def change_of_direction_deficit_s(turned_s: Estimate, straight_s: Estimate) -> Estimate:
    """What a turn costs: time with the turn minus time over the same length straight.

    Parameters
    ----------
    turned_s : Estimate
        For example 5 m there and 5 m back; per side.
    straight_s : Estimate
        For example 10 m straight, started by the same rule.

    Returns
    -------
    Estimate

    Notes
    -----
    Nimphius et al. 2016, doi:10.1519/JSC.0000000000001421.
    """
    return Estimate(
        turned_s.value - straight_s.value, float(np.hypot(turned_s.sigma, straight_s.sigma))
    )
