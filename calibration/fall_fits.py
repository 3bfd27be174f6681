"""Parabolas fitted to the samples of one flight: one with its doubt, or many to choose among."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Parabola", "fit_parabola", "misfits_of"]

Floats = NDArray[np.float64]

ROUNDS = 4
"""Of weighing outliers anew."""


@dataclass(frozen=True, slots=True)
class Parabola:
    """Free fall fitted to the samples of one flight."""

    fall: float
    fall_sigma: float
    residual_px: float
    misfit: float
    """Sum of squares, outliers damped."""
    widening: float
    """Factor by which neighbours that err alike widen sigma."""
    residuals_px: Floats
    spread_px: float
    """Robust standard deviation."""


def fit_parabola(
    times: Floats, heights: Floats, *, outlier_sigmas: float, extra: Floats | None = None
) -> Parabola:
    """Fit a Huber-weighted parabola; an extra column is fitted along where given.

    Parameters
    ----------
    times, heights : ndarray of shape (N,)
    outlier_sigmas : float
        Beyond so many robust standard deviations a sample loses weight.
    extra : ndarray of shape (N,), optional
    """
    basis = _basis(times, extra)
    weights = np.ones_like(times)
    freedom = max(times.size - basis.shape[1], 1)
    for _ in range(ROUNDS):
        root = np.sqrt(weights)
        solution = np.linalg.lstsq(basis * root[:, None], heights * root, rcond=None)[0]
        residuals = heights - basis @ solution
        spread = 1.4826 * float(np.median(np.abs(residuals))) * math.sqrt(times.size / freedom)
        limit = outlier_sigmas * max(spread, 1e-9)
        weights = np.minimum(1.0, limit / np.maximum(np.abs(residuals), 1e-12))
    misfit = float(np.sum(weights * residuals**2))
    residual_px = math.sqrt(misfit / freedom)
    information = np.linalg.inv((basis * weights[:, None]).T @ basis)
    widening = _correlation_widening(residuals)
    sigma = residual_px * math.sqrt(information[2, 2]) * widening
    return Parabola(float(solution[2]), sigma, residual_px, misfit, widening, residuals, spread)


def _correlation_widening(residuals: Floats) -> float:
    """Square root of how many samples count as one (first-order autocorrelation)."""
    power = float(residuals @ residuals)
    if power == 0.0:
        return 1.0
    likeness = float(residuals[1:] @ residuals[:-1]) / power
    likeness = min(max(likeness, 0.0), 0.9)
    return math.sqrt((1 + likeness) / (1 - likeness))


def misfits_of(
    times: Floats, heights: Floats, *, outlier_sigmas: float, extra: Floats | None = None
) -> Floats:
    """Misfits of many parabolas to the same heights, far quicker than one after the other.

    Parameters
    ----------
    times : ndarray of shape (K, N)
    heights : ndarray of shape (N,)
    outlier_sigmas : float
    extra : ndarray of shape (K, N), optional
        A column of each that is fitted along.

    Returns
    -------
    ndarray of shape (K,)
        As `fit_parabola` has them but for rounding: normal equations are solved here.
    """
    basis = _basis(times, extra)
    weights = np.ones_like(times)
    freedom = max(heights.size - basis.shape[-1], 1)
    for _ in range(ROUNDS):
        weighted = (basis * weights[..., None]).swapaxes(-1, -2)
        inverse = np.linalg.pinv(weighted @ basis, hermitian=True)
        solution = inverse @ (weighted @ heights)[..., None]
        residuals = heights - (basis @ solution)[..., 0]
        spread = 1.4826 * np.median(np.abs(residuals), axis=1) * math.sqrt(heights.size / freedom)
        limit = outlier_sigmas * np.maximum(spread, 1e-9)
        weights = np.minimum(1.0, limit[:, None] / np.maximum(np.abs(residuals), 1e-12))
    return np.asarray(np.sum(weights * residuals**2, axis=1))


def _basis(times: Floats, extra: Floats | None) -> Floats:
    """Columns of the fit, shape (..., N, 3 or 4)."""
    centred = times - times.mean(axis=-1, keepdims=True)
    columns = [np.ones_like(centred), centred, -(centred**2) / 2]
    return np.stack(columns if extra is None else [*columns, extra], axis=-1)
