"""Robust fits to a track: a parabola about one moment, or any curve that is a sum of columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LocalFit", "RobustFit", "fit_columns", "fit_locally"]

Floats = NDArray[np.float64]
ROUNDS = 3
OUTLIER_SPREADS = 4.7
"""Tukey's biweight at 95 % efficiency."""
LEAST_SPREAD = 1e-9


@dataclass(frozen=True, slots=True)
class LocalFit:
    """Value and slope at one moment."""

    value: float
    slope: float
    """Per second."""
    spread: float
    """Robust standard deviation of the points about the parabola."""
    value_sigma: float
    """Of the value, where the points scatter independently."""


def fit_locally(
    time_s: Floats, values: Floats, *, at_s: float, half_width_s: float, degree: int = 2
) -> LocalFit | None:
    """Fit a parabola with weights that fall off from a moment, outliers left out.

    Parameters
    ----------
    time_s, values : ndarray of shape (T,)
    at_s : float
        The moment.
    half_width_s : float
        Where the weights reach zero (tricube).
    degree : int

    Returns
    -------
    LocalFit or None
        None where fewer than two points more than the parabola's numbers lie in the window, or
        all of them on one side.

    Notes
    -----
    Cleveland 1979, doi:10.1080/01621459.1979.10481038. *Wrong* where the track bends within the
    window: a step's push and brake average out over 0.3 s, a stop within 0.1 s does not.
    """
    apart = (time_s - at_s) / half_width_s
    near = np.abs(apart) < 1
    apart, seen = apart[near], values[near]
    if seen.size < degree + 3 or apart.min() > 0.2 or apart.max() < -0.2:
        return None
    tricube = (1 - np.abs(apart) ** 3) ** 3
    powers = np.vander(apart, degree + 1, increasing=True)
    fit = fit_columns(powers, seen, weight=tricube)
    return LocalFit(
        float(fit.solution[0]), float(fit.solution[1]) / half_width_s, fit.spread,
        fit.sigma(np.eye(degree + 1)[0]),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class RobustFit:
    """Factors of columns, outliers left out."""

    solution: Floats
    """Shape (K,)."""
    spread: float
    """Robust standard deviation of the points about the curve."""
    from_points: Floats
    """Shape (K, N): how much each point moves each factor."""

    def sigma(self, asked: Floats) -> float:
        """Doubt of a sum of the factors, where the points scatter independently."""
        return self.spread * float(np.linalg.norm(asked @ self.from_points))


def fit_columns(columns: Floats, values: Floats, *, weight: Floats | None = None) -> RobustFit:
    """Fit a sum of columns to values by Tukey's biweight.

    Parameters
    ----------
    columns : ndarray of shape (N, K)
    values : ndarray of shape (N,)
    weight : ndarray of shape (N,), optional
        Before outliers are left out.

    Returns
    -------
    RobustFit
    """
    given = np.ones(values.size) if weight is None else weight
    weight, spread = given, LEAST_SPREAD
    solution = np.zeros(columns.shape[1])
    for _ in range(ROUNDS):
        root = np.sqrt(weight)
        solution, *_ = np.linalg.lstsq(columns * root[:, None], values * root, rcond=None)
        residual = values - columns @ solution
        spread = 1.4826 * float(np.median(np.abs(residual))) + LEAST_SPREAD
        weight = given * np.clip(1 - (residual / (OUTLIER_SPREADS * spread)) ** 2, 0, 1) ** 2
    root = np.sqrt(weight)
    from_points = np.linalg.pinv(columns * root[:, None]) * root
    return RobustFit(np.asarray(solution), spread, from_points)
