"""What an athlete can do: best and mean, each with its doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.trends.robust import fit_robustly
from measure.trends.series import Series
from measure.trends.sessions import Sessions, group_sessions
from measure.types import Estimate, Refused

__all__ = ["Level", "measure_level"]


@dataclass(frozen=True, slots=True)
class Level:
    """Best and mean of a series."""

    best: Estimate
    """The best single result; being the best of many, it is likely a little lucky."""
    best_day: float
    mean: Estimate | Refused
    """Mean of the sessions, strays held back; its doubt has the variation between sessions and
    what all results share. Refused where one session can't show that variation."""
    mean_dof: int
    """Of the t distribution that the mean's doubt follows; with few sessions it is wide."""
    result_count: int
    session_count: int


def measure_level(series: Series) -> Level | Refused:
    """Give best and mean.

    Parameters
    ----------
    series : Series

    Returns
    -------
    Level or Refused
        Refused for an empty series.

    Notes
    -----
    *When this is wrong*: over a time in which the athlete changed, the mean is of then and now;
    the line's level on the last day (`fit_trend`) is of now.
    """
    if not series.day.size:
        return Refused(
            series.quantity, "Nothing of the kind has been measured.", "Film the exercise."
        )
    pick = np.argmax if series.more_is_better else np.argmin
    best = int(pick(series.value))
    sessions = group_sessions(series)
    return Level(
        best=Estimate(
            float(series.value[best]), float(np.hypot(series.sigma_own[best], series.sigma_common))
        ),
        best_day=float(series.day[best]),
        mean=_mean(series, sessions),
        mean_dof=sessions.day.size - 1,
        result_count=series.day.size,
        session_count=sessions.day.size,
    )


def _mean(series: Series, sessions: Sessions) -> Estimate | Refused:
    count = sessions.day.size
    if count < 2:
        return Refused(
            f"mean of {series.quantity}", "There is one session only.", "Measure on another day."
        )
    fit = fit_robustly(np.ones((count, 1)), sessions.value, sigma=sessions.value_sigma)
    sigma = float(np.hypot(np.sqrt(fit.covariance[0, 0]), series.sigma_common))
    return Estimate(float(fit.coefficients[0]), sigma)
