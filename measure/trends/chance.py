"""How likely a change is real: better, too small to matter, or worse."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from measure.types import Estimate, Refused

__all__ = ["Chances", "assess_change", "smallest_worthwhile"]


@dataclass(frozen=True, slots=True)
class Chances:
    """Three probabilities that add up to one."""

    better: float
    """That the true change is for the better by more than the smallest worthwhile one."""
    trivial: float
    worse: float
    any_gain: float
    """That the true change is for the better at all."""


def assess_change(
    change: Estimate, *, smallest: float, dof: float = math.inf, more_is_better: bool = True
) -> Chances:
    """Give the chances that a change is real.

    Parameters
    ----------
    change : Estimate
        Of two sessions its sigma is sqrt(2) typical errors; of a trend that of its slope.
    smallest : float
        Smallest worthwhile change, in the same unit, >= 0.
    dof : float
        Degrees of freedom behind the sigma, > 0.
    more_is_better : bool
        False for times.

    Returns
    -------
    Chances

    Raises
    ------
    ValueError
        For a negative smallest change, or no degree of freedom.

    Notes
    -----
    Probabilities of the true change where nothing else is known beforehand (Hopkins 2000, Sports
    Med 30:1-15). *When this is wrong*: a change picked because it was the largest of many is
    likely smaller than it looks.
    """
    if not smallest >= 0 or not dof > 0:
        raise ValueError(f"smallest, dof: expected >= 0 and > 0, got {smallest} and {dof}")
    gain = change.value if more_is_better else -change.value
    if change.sigma == 0:
        return Chances(
            float(gain > smallest), float(abs(gain) <= smallest), float(gain < -smallest),
            float(gain > 0),
        )  # fmt: skip
    better, worse, any_gain = stats.t.cdf(
        np.array([gain - smallest, -smallest - gain, gain]) / change.sigma, dof
    )
    return Chances(float(better), float(1 - better - worse), float(worse), float(any_gain))


def smallest_worthwhile(athlete_means: Sequence[float]) -> float | Refused:
    """Give the smallest change that matters in a squad: 0.2 of the spread between athletes.

    Parameters
    ----------
    athlete_means : sequence of float
        One level per athlete of one squad.

    Returns
    -------
    float or Refused
        Refused for fewer than five athletes.

    Notes
    -----
    0.2 of the standard deviation between athletes is the convention for a small effect (Hopkins
    2000). It says nothing of what a change is worth in play. *When this is wrong*: levels of one
    session each spread by their noise too, which makes it read large.
    """
    if len(athlete_means) < 5:
        return Refused(
            "smallest worthwhile change",
            f"Only {len(athlete_means)} athletes of the squad have this test.",
            "Test five athletes or more.",
        )
    return 0.2 * float(np.std(athlete_means, ddof=1))
