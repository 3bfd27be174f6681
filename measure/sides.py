"""Left against right: how different, how sure, and whether it is more than the usual variation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.types import Estimate, Foot, Refused

__all__ = ["SideDifference", "compare_sides"]

_SESSIONS_NEEDED = 3


@dataclass(frozen=True, slots=True)
class SideDifference:
    """One number of the left side against the right."""

    difference_pct: Estimate
    """100 (max - min) / max, never negative; near zero it reads a little high."""
    weaker: Foot | None
    """Side with the smaller number; None for equal ones."""
    exceeds_own_variation: bool | None
    """None while the athlete's own variation is not known."""
    text: str
    """One sentence."""


def compare_sides(
    *, left: Estimate, right: Estimate, own_variation_pct: float | None = None,
    same_side_sessions: int = 1,
) -> SideDifference | Refused:  # fmt: skip
    """Difference between the sides by 100 (max - min) / max.

    Parameters
    ----------
    left, right : Estimate
        The same quantity of each side, where more is better: height, reactive strength.
    own_variation_pct : float or None
        The athlete's own coefficient of variation in this test, percent.
    same_side_sessions : int
        In how many sessions, this one included, the same side was the weaker one.

    Returns
    -------
    SideDifference or Refused
        Refused for numbers that are not positive.

    Notes
    -----
    One of nine formulas in use; their results must not be mixed (Bishop, Read, Chavda and Turner
    2016, doi:10.1519/SSC.0000000000000264). A difference is called real only where it exceeds
    the athlete's own variation and its own doubt, on the same side in three sessions or more.
    Side differences are common, depend on the task and change sides; no evidence shows that an
    existing one raises the risk of injury (Afonso 2022, Symmetry 14:1993).
    """
    if not (left.value > 0 and right.value > 0):
        return Refused(
            "side difference", "A side has no positive number to compare.",
            "Film the same exercise on both sides.",
        )  # fmt: skip
    weaker: Foot | None = None
    if left.value != right.value:
        weaker = "left" if left.value < right.value else "right"
    small, large = (left, right) if left.value <= right.value else (right, left)
    share = small.value / large.value
    sigma = 100 * share * float(np.hypot(small.sigma / small.value, large.sigma / large.value))
    difference = Estimate(100 * (1 - share), sigma)
    exceeds = None
    if own_variation_pct is not None:
        exceeds = difference.value > max(own_variation_pct, difference.sigma)
    text = _describe(difference, weaker, exceeds, own_variation_pct, same_side_sessions)
    return SideDifference(difference, weaker, exceeds, text)


def _describe(
    difference: Estimate, weaker: Foot | None, exceeds: bool | None,
    own_variation_pct: float | None, sessions: int,
) -> str:  # fmt: skip
    if weaker is None:
        return "Left and right are equal."
    amount = f"The {weaker} side is {difference.value:.0f} ± {difference.sigma:.0f} % lower"
    if exceeds is None:
        return f"{amount}; the athlete's own variation is not known yet, so it says little."
    variation = f"{own_variation_pct:.0f} %"
    if not exceeds:
        return f"{amount}, which is within the athlete's own variation ({variation}) or its doubt."
    if sessions < _SESSIONS_NEEDED:
        return (
            f"{amount}, more than the athlete's own variation ({variation}), but seen in only "
            f"{sessions} of the {_SESSIONS_NEEDED} sessions that are needed to call it real."
        )
    return (
        f"{amount}, more than the athlete's own variation ({variation}), on the same side in "
        f"{sessions} sessions."
    )
