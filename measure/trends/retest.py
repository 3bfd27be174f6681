"""How well a test repeats over several athletes: typical error and intraclass correlation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.trends.variation import detectable_change
from measure.types import Floats, Refused

__all__ = ["Retest", "measure_retest"]

FEWEST_ATHLETES = 3


@dataclass(frozen=True, slots=True)
class Retest:
    """Reliability of one test over athletes and trials."""

    typical_error: float
    """Standard deviation of one athlete's trial about her own mean, shifts of all taken out."""
    mean: float
    cv_pct: float | None
    """Typical error in percent of the mean; None where that is not above nought."""
    cv_log_pct: float | None
    """The same from logarithms, for errors that grow with the value; None for values <= 0."""
    detectable_change: float
    icc_consistency: float
    """ICC(3,1): how alike athletes rank, shifts of all trials aside."""
    icc_agreement: float
    """ICC(2,1): the same, shifts of all trials counted as error."""
    smallest_worthwhile: float
    """0.2 of the standard deviation between athletes."""


def measure_retest(trials: Floats) -> Retest | Refused:
    """Measure how well a test repeats.

    Parameters
    ----------
    trials : ndarray of shape (N, K)
        N athletes, each with the same K trials in order.

    Returns
    -------
    Retest or Refused
        Refused for fewer than three athletes or two trials.

    Raises
    ------
    ValueError
        For numbers that are not finite, or another shape.

    Notes
    -----
    Two-way analysis of variance; with two trials the typical error is SD(differences) / sqrt(2)
    (Hopkins 2000, Sports Med 30:1-15). ICC forms after Shrout and Fleiss 1979,
    doi:10.1037/0033-2909.86.2.420. *When this is wrong*: athletes of unlike variation, strays.
    """
    if trials.ndim != 2 or not np.isfinite(trials).all():
        raise ValueError(f"trials: expected finite numbers of shape (N, K), got {trials.shape}")
    athletes, count = trials.shape
    if athletes < FEWEST_ATHLETES or count < 2:
        return Refused(
            "typical error", f"There are {athletes} athletes with {count} trials each.",
            f"Test at least {FEWEST_ATHLETES} athletes twice.",
        )  # fmt: skip
    error = _error_sd(trials)
    mean = float(trials.mean())
    consistency, agreement = _correlations(trials, error_variance=error**2)
    return Retest(
        typical_error=error,
        mean=mean,
        cv_pct=100 * error / mean if mean > 0 else None,
        cv_log_pct=100 * float(np.expm1(_error_sd(np.log(trials)))) if (trials > 0).all() else None,
        detectable_change=detectable_change(error),
        icc_consistency=consistency,
        icc_agreement=agreement,
        smallest_worthwhile=0.2 * float(trials.mean(axis=1).std(ddof=1)),
    )


def _error_sd(trials: Floats) -> float:
    athletes, count = trials.shape
    own = trials - trials.mean(axis=1, keepdims=True)
    left = own - own.mean(axis=0, keepdims=True)
    return float(np.sqrt((left**2).sum() / ((athletes - 1) * (count - 1))))


def _correlations(trials: Floats, *, error_variance: float) -> tuple[float, float]:
    athletes, count = trials.shape
    between = count * float(trials.mean(axis=1).var(ddof=1))
    shift = athletes * float(trials.mean(axis=0).var(ddof=1))
    common = between + (count - 1) * error_variance
    agreement = common + count * (shift - error_variance) / athletes
    if common == 0:
        return 0.0, 0.0
    return (between - error_variance) / common, (between - error_variance) / agreement
