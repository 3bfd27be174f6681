"""Results to sessions: one value a day, its best, and how sure the day's value is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from measure.trends.robust import fit_robustly
from measure.trends.series import Series
from measure.types import Estimate, Floats

__all__ = ["Sessions", "group_sessions"]


@dataclass(frozen=True)
class Sessions:
    """One row per day on which something was measured."""

    day: Floats
    """Shape (J,)."""
    value: Floats
    """Mean of the day's results, strays held back, shape (J,)."""
    value_sigma: Floats
    """Of that mean, from measurement and trial-to-trial scatter, shape (J,)."""
    best: Floats
    """Shape (J,). The best of many reads higher than the best of few: compare means."""
    count: Floats
    """Results of the day, shape (J,)."""
    trial_scatter: Estimate | None
    """Standard deviation from trial to trial within a day; None where no day has two."""


@lru_cache(maxsize=512)  # level, trend and change of one series all ask
def group_sessions(series: Series) -> Sessions:
    """Give the sessions of a series.

    Parameters
    ----------
    series : Series
        At least one result.

    Returns
    -------
    Sessions

    Raises
    ------
    ValueError
        The series is empty.

    Notes
    -----
    The mean of a day's trials shows change better than their best (Claudino 2017, J Sci Med Sport
    20:397). The trial scatter is pooled over days. *When this is wrong*: trials of one day that
    are not the same test, as half efforts among full ones.
    """
    if not series.day.size:
        raise ValueError("series: expected at least one result, got none")
    days, first, count = np.unique(series.day, return_index=True, return_counts=True)
    groups = np.split(np.arange(series.day.size), first[1:])
    scatter = _trial_scatter(series, groups)
    least = 0.0 if scatter is None else scatter.value
    trial_sigma = np.maximum(series.sigma_own, least)
    pick = np.max if series.more_is_better else np.min
    return Sessions(
        day=days,
        value=np.array([_middle(series.value[group], trial_sigma[group]) for group in groups]),
        value_sigma=np.array([np.sqrt((trial_sigma[group] ** 2).mean() / group.size)
                              for group in groups]),
        best=np.array([pick(series.value[group]) for group in groups]),
        count=count.astype(np.float64),
        trial_scatter=scatter,
    )  # fmt: skip


def _trial_scatter(series: Series, groups: list[Floats]) -> Estimate | None:
    """Pool the days by the differences of trials from the mean of those before them.

    Such differences (Helmert's) are independent and, with their factor, as wide as one trial.
    """
    steps = [
        (series.value[group[k]] - series.value[group[:k]].mean()) * np.sqrt(k / (k + 1))
        for group in groups
        for k in range(1, group.size)
    ]
    if not steps:
        return None
    fit = fit_robustly(np.empty((len(steps), 0)), np.array(steps), sigma=np.zeros(len(steps)))
    scatter = fit.extra_sigma
    return Estimate(scatter, scatter / float(np.sqrt(2 * len(steps))))


def _middle(values: Floats, sigmas: Floats) -> float:
    if values.size < 3:
        return float(values.mean())
    offset = np.abs(values - np.median(values)) / np.maximum(sigmas, 1e-12)
    weights = 1.5 / np.maximum(offset, 1.5)
    return float(weights @ values / weights.sum())
