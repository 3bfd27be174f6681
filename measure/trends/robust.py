"""A weighted line that a few strays can't bend, with a variance found from its own residuals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, stats

from measure.types import Floats

__all__ = ["RobustFit", "fit_robustly"]

BEND = 1.5
"""Residuals beyond this many sigmas pull no harder than one at it; costs 4 % where there are none.
"""
MOST_ROUNDS = 50
SHARPEST = 0.1
"""Scatter of a point without any doubt, as part of the smallest of the others."""
_INSIDE = 2 * stats.norm.cdf(BEND) - 1
_SQUARE = _INSIDE - 2 * BEND * stats.norm.pdf(BEND) + 2 * BEND**2 * stats.norm.sf(BEND)
"""Mean square of a bent standard normal."""


@dataclass(frozen=True)
class RobustFit:
    """Coefficients with their covariance, and the extra scatter that the residuals show."""

    coefficients: Floats
    """Shape (P,)."""
    covariance: Floats
    """Shape (P, P)."""
    extra_sigma: float
    """Scatter beyond the stated sigmas, the same for every point."""
    weight: Floats
    """1 for a point that fits, less for a stray, shape (N,)."""
    dof: int


def fit_robustly(basis: Floats, value: Floats, *, sigma: Floats) -> RobustFit:
    """Fit value = basis @ coefficients with scatter sigma_i^2 + extra^2, extra unknown.

    Parameters
    ----------
    basis : ndarray of shape (N, P)
        No columns for scatter about nought.
    value : ndarray of shape (N,)
    sigma : ndarray of shape (N,)
        Known part of each point's scatter.

    Returns
    -------
    RobustFit

    Raises
    ------
    ValueError
        There are no more points than coefficients.

    Notes
    -----
    Huber's M-estimate; the extra variance solves sum(psi(z)^2) = (N - P) E[psi^2] ("proposal 2",
    Huber 1981, Robust Statistics, chapter 7), the robust form of the moment estimate of Paule and
    Mandel 1982, doi:10.6028/jres.087.022. Where residuals are smaller than stated, the stated
    sigmas hold. *When this is wrong*: more than about a quarter of strays, or strays at the ends.
    """
    dof = basis.shape[0] - basis.shape[1]
    if dof < 1:
        raise ValueError(f"basis: expected more rows than columns, got {basis.shape}")
    variance = _extra_variance(basis, value, sigma=sigma, dof=dof)
    scatter = _scatter(sigma, variance)
    coefficients = _bend(basis, value, scatter=scatter)
    z = (value - basis @ coefficients) / scatter
    return RobustFit(
        coefficients=coefficients,
        covariance=_covariance(basis, z, scatter=scatter, dof=dof),
        extra_sigma=math.sqrt(variance),
        weight=BEND / np.maximum(np.abs(z), BEND),
        dof=dof,
    )


def _extra_variance(basis: Floats, value: Floats, *, sigma: Floats, dof: int) -> float:
    near = np.zeros(basis.shape[1])  # where the search was last: the next solution is not far

    def excess(log_variance: float) -> float:
        scatter = _scatter(sigma, math.exp(log_variance))
        near[:] = _bend(basis, value, scatter=scatter, start=near)
        z = (value - basis @ near) / scatter
        return float(np.minimum(z**2, BEND**2).sum() - dof * _SQUARE)

    plain = value - basis @ np.linalg.lstsq(basis, value, rcond=None)[0]
    most = float(plain @ plain)
    least = math.log(most * 1e-12 + 1e-300)
    if most <= 1e-24 * float(value @ value) or excess(least) <= 0:
        return 0.0
    # Without strays it lies near the plain variance; at four times all squares every residual is
    # far inside the bend.
    usual = math.log(most / dof / 100)
    low, high = (usual, math.log(4 * most)) if excess(usual) > 0 else (least, usual)
    return math.exp(float(optimize.brentq(excess, low, high, xtol=1e-5)))


def _scatter(sigma: Floats, variance: float) -> Floats:
    """Give each point's scatter; none is without any, or it alone would count."""
    scatter: Floats = np.sqrt(sigma**2 + variance)
    if not scatter.all():
        some = scatter[scatter > 0]
        scatter[scatter == 0] = SHARPEST * some.min() if some.size else 1e-12
    return scatter


def _bend(
    basis: Floats, value: Floats, *, scatter: Floats, start: Floats | None = None
) -> Floats:
    """Solve by re-weighting; there is one solution, wherever the search starts.

    Where the strays stay the same from one round to the next, what is left is a linear equation.
    """
    coefficients = np.zeros(basis.shape[1]) if start is None else start
    least = scatter.min()
    row, target = basis * (least / scatter)[:, None], value * (least / scatter)
    z = (target - row @ coefficients) / least
    weight = np.ones_like(value)
    if start is not None and start.any():
        weight = BEND / np.maximum(np.abs(z), BEND)
    side = _side(z)
    for _ in range(MOST_ROUNDS if coefficients.size else 0):
        weighted = row * weight[:, None]
        solved: Floats = np.linalg.solve(weighted.T @ row, weighted.T @ target)
        z = (target - row @ solved) / least
        before, side = side, _side(z)
        if (side == before).all():
            exact = _solve_with(side, row, target, pull=BEND * least)
            if exact is not None and (_side((target - row @ exact) / least) == side).all():
                return exact
        weight = BEND / np.maximum(np.abs(z), BEND)
        step = np.abs(solved - coefficients)
        coefficients = solved
        if (step <= 1e-12 + 1e-9 * np.abs(solved)).all():
            break
    return coefficients


def _side(z: Floats) -> Floats:
    """Give 1 and -1 for strays above and below, 0 for points within the bend."""
    return np.where(np.abs(z) > BEND, np.sign(z), 0.0)


def _solve_with(side: Floats, row: Floats, target: Floats, *, pull: float) -> Floats | None:
    """Give the solution if these are the strays, each of which pulls the same; None where none."""
    inside = side == 0
    within = row[inside]
    try:
        solved: Floats = np.linalg.solve(
            within.T @ within, within.T @ target[inside] + pull * (side @ row)
        )
    except np.linalg.LinAlgError:
        return None
    return solved


def _covariance(basis: Floats, z: Floats, *, scatter: Floats, dof: int) -> Floats:
    inside = max(float((np.abs(z) <= BEND).mean()), 0.5)
    square = float((np.clip(z, -BEND, BEND) ** 2).sum()) / dof
    # Smaller residuals than stated are luck: the stated sigmas hold.
    inflation = max(square / inside**2, 1.0 if square < _SQUARE * 0.999 else 0.0)
    small_sample = 1 + basis.shape[1] / z.size * (1 - inside) / inside
    weighted = basis / scatter[:, None]
    covariance: Floats = np.linalg.inv(weighted.T @ weighted)
    covariance *= inflation * small_sample**2
    return covariance
