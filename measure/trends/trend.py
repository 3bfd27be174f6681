"""Is it going up: a line through the sessions, with all the doubt that the sessions have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.trends.robust import RobustFit, fit_robustly
from measure.trends.series import Series
from measure.trends.sessions import Sessions, group_sessions
from measure.types import Estimate, Refused

__all__ = ["Trend", "TrendSettings", "fit_trend"]

DAYS_PER_WEEK = 7.0
STRAY_WEIGHT = 0.5
"""A session pulled less than this is named a stray: three sigmas off."""


@dataclass(frozen=True, slots=True)
class TrendSettings:
    """How much there must be before a trend is told."""

    fewest_sessions: int = 4
    shortest_days: float = 14.0


@dataclass(frozen=True)
class Trend:
    """A straight line over days."""

    quantity: str
    first_day: float
    last_day: float
    slope_per_week: Estimate
    """Change per week; what all results share cancels in it."""
    day_to_day: float
    """Standard deviation of the athlete's true sessions about the line, beyond measurement."""
    stray_days: tuple[float, ...]
    """Sessions far off the line, which were held back."""
    sessions: Sessions
    dof: int
    """Of the t distribution that the line's doubt follows."""
    sigma_common: float
    _fit: RobustFit

    def level(self, day: float) -> Estimate:
        """Give the line's value on a day, with what all results share in its doubt."""
        at = np.array([1.0, (day - self.last_day) / DAYS_PER_WEEK])
        variance = float(at @ self._fit.covariance @ at) + self.sigma_common**2
        return Estimate(float(at @ self._fit.coefficients), float(np.sqrt(variance)))

    def change(self, from_day: float, to_day: float) -> Estimate:
        """Give the line's change between two days."""
        weeks = (to_day - from_day) / DAYS_PER_WEEK
        return Estimate(self.slope_per_week.value * weeks, self.slope_per_week.sigma * abs(weeks))


def fit_trend(series: Series, *, settings: TrendSettings | None = None) -> Trend | Refused:
    """Fit a line to an athlete's sessions.

    Parameters
    ----------
    series : Series
    settings : TrendSettings, optional

    Returns
    -------
    Trend or Refused
        Refused with too few sessions or too short a time.

    Notes
    -----
    Each session counts by its own sigma (its results' and their scatter) and by the day-to-day
    variation that the sessions show about the line (`fit_robustly`). Days are real days: weeks
    without a session are neither filled nor closed up. Use the t distribution with ``dof``.
    *When this is wrong*: a course that bends (a pause, an injury): fit each part for itself.
    """
    limits = settings or TrendSettings()
    sessions = group_sessions(series) if series.day.size else None
    if sessions is None or not _is_enough(sessions, limits):
        return _too_little(series.quantity, sessions, limits)
    last_day = float(sessions.day[-1])
    basis = np.stack(
        [np.ones(sessions.day.size), (sessions.day - last_day) / DAYS_PER_WEEK], axis=1
    )
    fit = fit_robustly(basis, sessions.value, sigma=sessions.value_sigma)
    return Trend(
        quantity=series.quantity,
        first_day=float(sessions.day[0]),
        last_day=last_day,
        slope_per_week=Estimate(
            float(fit.coefficients[1]), float(np.sqrt(fit.covariance[1, 1]))
        ),
        day_to_day=fit.extra_sigma,
        stray_days=tuple(float(day) for day in sessions.day[fit.weight < STRAY_WEIGHT]),
        sessions=sessions,
        dof=fit.dof,
        sigma_common=series.sigma_common,
        _fit=fit,
    )  # fmt: skip


def _is_enough(sessions: Sessions, limits: TrendSettings) -> bool:
    days = sessions.day
    return days.size >= limits.fewest_sessions and days[-1] - days[0] >= limits.shortest_days


def _too_little(quantity: str, sessions: Sessions | None, limits: TrendSettings) -> Refused:
    count = 0 if sessions is None else sessions.day.size
    span_days = 0.0 if sessions is None else float(sessions.day[-1] - sessions.day[0])
    return Refused(
        f"trend of {quantity}",
        f"There {'is 1 session' if count == 1 else f'are {count} sessions'} over "
        f"{span_days:.0f} days.",
        f"Measure on {limits.fewest_sessions} days or more, over {limits.shortest_days:.0f} days "
        "or more.",
    )
