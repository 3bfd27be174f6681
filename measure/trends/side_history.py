"""Left against right over time: which is weaker, for how long, and is the gap closing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.sides import SideDifference, compare_sides
from measure.trends.series import Series
from measure.trends.sessions import Sessions, group_sessions
from measure.trends.trend import Trend, fit_trend
from measure.trends.variation import Variation, measure_variation
from measure.types import Estimate, Floats, Refused

__all__ = ["SideHistory", "SideSession", "follow_sides"]


@dataclass(frozen=True, slots=True)
class SideSession:
    """One day on which both sides were measured."""

    day: float
    difference: SideDifference


@dataclass(frozen=True)
class SideHistory:
    """The sides of one exercise over time."""

    sessions: tuple[SideSession, ...]
    """From the oldest to the newest."""
    same_side_sessions: int
    """How many of the newest in a row have the same weaker side."""
    own_variation_pct: float | None
    """The athlete's own variation, the larger of the sides'; None while it is not known."""
    trend: Trend | Refused
    """Of 100 ln(left / right), positive with the left ahead; a gap is closing where it goes
    towards nought."""


def follow_sides(left: Series, right: Series) -> SideHistory | Refused:
    """Compare the sides on every day that has both.

    Parameters
    ----------
    left, right : Series
        The same quantity, more being better.

    Returns
    -------
    SideHistory or Refused
        Refused where no day has both sides, or a value is not positive: a ratio needs that.

    Raises
    ------
    ValueError
        The series hold different quantities.

    Notes
    -----
    A difference counts as real where it exceeds the athlete's own variation and keeps its side in
    three sessions (`compare_sides`). The doubt that all jumps share is taken to be alike on both
    sides, as in two shoes of a pair, and cancels.
    """
    if left.quantity != right.quantity:
        raise ValueError(f"right: expected {left.quantity}, got {right.quantity}")
    if min(left.value.min(initial=1), right.value.min(initial=1)) <= 0:
        return Refused(
            "side difference over time", f"A {left.quantity} is not above nought.",
            "Look at that result, and reject it where it is wrong.",
        )  # fmt: skip
    days = np.intersect1d(left.day, right.day)
    if not days.size:
        return Refused(
            "side difference over time", "No day has both sides.",
            "Film both sides on the same day.",
        )  # fmt: skip
    sides = (_on(days, group_sessions(left)), _on(days, group_sessions(right)))
    variation_pct = _variation_pct(left, right)
    sessions, run = _compare(days, sides, variation_pct)
    return SideHistory(sessions, run, variation_pct, fit_trend(_log_ratio(days, sides)))


def _on(days: Floats, sessions: Sessions) -> list[Estimate]:
    rows = np.searchsorted(sessions.day, days)
    return [Estimate(float(sessions.value[row]), float(sessions.value_sigma[row])) for row in rows]


def _variation_pct(left: Series, right: Series) -> float | None:
    known = [measure_variation(fit_trend(side)) for side in (left, right)]
    values = [each.cv_pct.value for each in known if isinstance(each, Variation) and each.cv_pct]
    return max(values) if values else None


def _compare(
    days: Floats, sides: tuple[list[Estimate], list[Estimate]], variation_pct: float | None
) -> tuple[tuple[SideSession, ...], int]:
    found: list[SideSession] = []
    run, weaker_before = 0, None
    for day, left, right in zip(days, *sides, strict=True):
        weaker = None if left.value == right.value else left.value < right.value
        run = 0 if weaker is None else run + 1 if weaker == weaker_before else 1
        weaker_before = weaker
        difference = compare_sides(
            left=left, right=right, own_variation_pct=variation_pct, same_side_sessions=run
        )
        assert not isinstance(difference, Refused)  # both are positive
        found.append(SideSession(float(day), difference))
    return tuple(found), run


def _log_ratio(days: Floats, sides: tuple[list[Estimate], list[Estimate]]) -> Series:
    pairs = list(zip(*sides, strict=True))
    return Series(
        quantity="side_ratio_pct",
        day=days,
        value=np.array([100 * np.log(left.value / right.value) for left, right in pairs]),
        sigma_own=np.array(
            [100 * np.hypot(left.sigma / left.value, right.sigma / right.value)
             for left, right in pairs]
        ),
    )  # fmt: skip
