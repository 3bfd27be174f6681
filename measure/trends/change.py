"""From one time to another: how much an athlete changed, noise included in the doubt."""

from __future__ import annotations

import numpy as np

from measure.trends.series import Series
from measure.trends.sessions import Sessions, group_sessions
from measure.types import Estimate, Refused

__all__ = ["measure_change"]

Days = tuple[float, float]
"""First and last day of a time, both included."""


def measure_change(
    series: Series, *, before: Days, after: Days, day_to_day: float
) -> Estimate | Refused:
    """Measure the change from one time to another, such as from week to week.

    Parameters
    ----------
    series : Series
    before, after : (float, float)
        First and last day of each.
    day_to_day : float
        The athlete's own variation between sessions beyond measurement: that of her trend, or a
        published one for the test.

    Returns
    -------
    Estimate or Refused
        After minus before; refused where either has no session.

    Raises
    ------
    ValueError
        For a negative ``day_to_day``.

    Notes
    -----
    Variance of each time's mean = mean of its sessions' variances, each sigma^2 + day_to_day^2,
    over their number. What all results share cancels.
    """
    if day_to_day < 0:
        raise ValueError(f"day_to_day: expected >= 0, got {day_to_day}")
    sessions = group_sessions(series) if series.day.size else None
    means = [_mean(sessions, days, day_to_day) for days in (before, after)]
    if means[0] is None or means[1] is None:
        missing = before if means[0] is None else after
        return Refused(
            f"change of {series.quantity}",
            f"Nothing was measured from day {missing[0]:g} to day {missing[1]:g}.",
            "Choose a time with a session.",
        )
    return Estimate(
        means[1].value - means[0].value, float(np.hypot(means[0].sigma, means[1].sigma))
    )


def _mean(sessions: Sessions | None, days: Days, day_to_day: float) -> Estimate | None:
    if sessions is None:
        return None
    inside = (sessions.day >= days[0]) & (sessions.day <= days[1])
    if not inside.any():
        return None
    variance = sessions.value_sigma[inside] ** 2 + day_to_day**2
    return Estimate(
        float(sessions.value[inside].mean()), float(np.sqrt(variance.sum()) / inside.sum())
    )
