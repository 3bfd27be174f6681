"""How much an athlete's sessions differ by themselves, and what a change must exceed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from measure.trends.series import Series
from measure.trends.sessions import group_sessions
from measure.trends.trend import TrendSettings, fit_trend
from measure.types import Estimate, Refused

__all__ = ["Variation", "detectable_change", "measure_variation"]


@dataclass(frozen=True, slots=True)
class Variation:
    """An athlete's own variation from session to session."""

    typical_error: Estimate
    """Standard deviation of one session's value about her own trend."""
    typical_error_range: tuple[float, float]
    """Where the true one lies with 95 % confidence; wide for few sessions."""
    cv_pct: Estimate
    """Typical error in percent of the mean."""
    detectable_change: float
    """Change between two sessions that noise alone reaches once in twenty times."""
    trial_scatter: Estimate | None
    """Standard deviation from trial to trial within a day."""
    dof: int


def measure_variation(
    series: Series, *, settings: TrendSettings | None = None
) -> Variation | Refused:
    """Measure the scatter of sessions about the athlete's own trend.

    Parameters
    ----------
    series : Series
    settings : TrendSettings, optional

    Returns
    -------
    Variation or Refused
        Refused where no trend can be told.

    Notes
    -----
    Typical error: Hopkins 2000, Sports Med 30:1-15; the trend is taken out first, so that
    progress doesn't count as noise. Minimal detectable change 1.96 sqrt(2) TE: Weir 2005, J
    Strength Cond Res 19:231. A good typical error takes some 50 athletes with three trials
    (Hopkins 2000): look at the range. *When this is wrong*: sessions under unlike conditions.
    """
    trend = fit_trend(series, settings=settings)
    if isinstance(trend, Refused):
        return Refused(f"typical error of {series.quantity}", trend.reason, trend.hint)
    sessions = group_sessions(series)
    measured = float((sessions.value_sigma**2).mean())
    error = float(np.sqrt(trend.day_to_day**2 + measured))
    low, high = np.sqrt(trend.dof / stats.chi2.ppf([0.975, 0.025], trend.dof)) * error
    sigma = error / float(np.sqrt(2 * trend.dof))
    mean = abs(float(sessions.value.mean()))
    return Variation(
        typical_error=Estimate(error, sigma),
        typical_error_range=(float(low), float(high)),
        cv_pct=Estimate(100 * error / mean, 100 * sigma / mean),
        detectable_change=detectable_change(error),
        trial_scatter=sessions.trial_scatter,
        dof=trend.dof,
    )


def detectable_change(typical_error: float, *, confidence: float = 0.95) -> float:
    """Give the change between two sessions that noise alone seldom reaches.

    Parameters
    ----------
    typical_error : float
    confidence : float
        0.95 for a change that noise alone reaches once in twenty times.

    Returns
    -------
    float
        z sqrt(2) TE (Weir 2005, J Strength Cond Res 19:231), in the unit of the typical error.
    """
    return float(stats.norm.ppf((1 + confidence) / 2) * np.sqrt(2) * typical_error)
