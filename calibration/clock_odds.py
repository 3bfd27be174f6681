"""Weigh the clocks that a file may run on against what gravity shows."""

from __future__ import annotations

import math
from dataclasses import dataclass

from calibration.capture_rates import SlowFactor
from calibration.gravity_clock import GravityReading


@dataclass(frozen=True, slots=True)
class OddsSettings:
    """Weights before gravity is heard; only their order of size matters."""

    real_time_weight: float = 0.80
    """Of a file whose stamps are real time, where nothing says otherwise."""
    noted_weight: float = 0.60
    """Of the factor that a capture-rate note in the file asks for."""
    repeated_weight: float = 0.30
    """Of the factor that the number of showings of each picture asks for."""
    anything_weight: float = 0.02
    """Of any other factor, evenly over its logarithm from 1/4 to 40."""
    unknown_stature_weight: float = 0.15
    """Where the stature was assumed: share of athletes from 1.0 to 2.1 m, children included."""
    mistaken_ruler_weight: float = 0.10
    mistaken_ruler_sigma: float = 0.08
    """Where a stature was given: share of those mistyped or guessed, and the relative sigma of the
    factor that follows."""


ANYTHING_LOG_RANGE = math.log(40 / 0.25)
SHORTEST_M, TALLEST_M = 0.9, 2.1
ASSUMED_STATURE_M = 1.70


@dataclass(frozen=True, slots=True)
class Verdict:
    """The most likely clock."""

    file_s_per_s: float
    probability: float
    sigmas_off: float
    """Distance of gravity's factor from this one, in its sigmas."""


def weigh_clocks(
    reading: GravityReading,
    factors: tuple[SlowFactor, ...],
    *,
    ruler_assumed: bool,
    settings: OddsSettings,
) -> Verdict:
    """Find the factor with the greatest posterior probability.

    Parameters
    ----------
    reading : GravityReading
    factors : tuple of SlowFactor
        All that may be, real time (1) among them.
    ruler_assumed : bool
        The scale rests on a stature nobody gave.
    settings : OddsSettings

    Returns
    -------
    Verdict
    """
    heights = [
        factor.weight
        * _likelihood(reading, factor.file_s_per_s, assumed=ruler_assumed, settings=settings)
        for factor in factors
    ]
    anything = settings.anything_weight / ANYTHING_LOG_RANGE
    best = max(range(len(factors)), key=heights.__getitem__)
    chosen = factors[best].file_s_per_s
    return Verdict(
        file_s_per_s=chosen,
        probability=heights[best] / (sum(heights) + anything),
        sigmas_off=abs(math.log(reading.factor / chosen)) / reading.sigma,
    )


def _likelihood(
    reading: GravityReading, factor: float, *, assumed: bool, settings: OddsSettings
) -> float:
    """Density of the logarithm of gravity's factor, were this one true."""
    off = math.log(reading.factor / factor)
    if assumed:
        wide_share = settings.unknown_stature_weight
        lowest = 0.5 * math.log(SHORTEST_M / ASSUMED_STATURE_M) - reading.sigma
        highest = 0.5 * math.log(TALLEST_M / ASSUMED_STATURE_M)
        wide = 1 / (highest - lowest) if lowest <= off <= highest else 0.0
    else:
        wide_share = settings.mistaken_ruler_weight
        wide = _normal(off, math.hypot(reading.sigma, settings.mistaken_ruler_sigma))
    return (1 - wide_share) * _normal(off, reading.sigma) + wide_share * wide


def _normal(off: float, sigma: float) -> float:
    return math.exp(-0.5 * (off / sigma) ** 2) / (sigma * math.sqrt(2 * math.pi))
