"""How much an athlete's sessions differ by themselves, and what a change must exceed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import stats

from measure.trends.trend import Trend
from measure.types import Estimate, Refused

__all__ = ["Variation", "detectable_change", "measure_variation"]


@dataclass(frozen=True, slots=True)
class Variation:
    """An athlete's own variation from session to session."""

    typical_error: Estimate
    """Standard deviation of one session's value about her own trend."""
    typical_error_range: tuple[float, float]
    """Where the true one lies with 95 % confidence; wide for few sessions."""
    cv_pct: Estimate | None
    """Typical error in percent of the usual value; None where that is not above nought."""
    detectable_change: float
    """Change between two sessions that noise alone reaches once in twenty times."""
    trial_scatter: Estimate | None
    """Standard deviation from trial to trial within a day."""
    dof: int


def measure_variation(trend: Trend | Refused) -> Variation | Refused:
    """Measure the scatter of sessions about the athlete's own trend.

    Parameters
    ----------
    trend : Trend or Refused
        As `fit_trend` gives it.

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
    if isinstance(trend, Refused):
        what = trend.what.removeprefix("trend of ")
        return Refused(f"typical error of {what}", trend.reason, trend.hint)
    sessions = trend.sessions
    # The middle ones: a session that hardly measured says nothing of the others.
    measured = float(np.median(sessions.value_sigma**2))
    usual = float(np.median(sessions.value))
    error = float(np.sqrt(trend.day_to_day**2 + measured))
    low, high = np.sqrt(trend.dof / stats.chi2.ppf([0.975, 0.025], trend.dof)) * error
    sigma = error / float(np.sqrt(2 * trend.dof))
    return Variation(
        typical_error=Estimate(error, sigma),
        typical_error_range=(float(low), float(high)),
        cv_pct=Estimate(100 * error / usual, 100 * sigma / usual) if usual > 0 else None,
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
