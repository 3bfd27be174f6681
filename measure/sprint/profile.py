"""Horizontal force over speed from a sprint's speed curve and the runner's mass."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Air", "ForceVelocity", "profile_force"]

Floats = NDArray[np.float64]

DRAG_COEFFICIENT = 0.9
STANDARD_GRAVITY_MPS2 = 9.80665
STEP_S = 0.001
RATIO_FROM_S = 0.3
"""The ratio of forces is taken from the first steps on, not from the push off the blocks."""


@dataclass(frozen=True, slots=True)
class Air:
    """What the runner pushes against."""

    pressure_torr: float = 760.0
    temperature_c: float = 20.0
    wind_mps: float = 0.0
    """Positive from behind."""


@dataclass(frozen=True, slots=True)
class ForceVelocity:
    """A straight line of horizontal force over speed, and what is read off it."""

    force_n_per_kg: float
    """F0, at no speed."""
    speed_mps: float
    """v0, at which no force is left."""
    slope: float
    """−F0 / v0, N s / (m kg)."""
    power_w_per_kg: float
    """F0 v0 / 4."""
    ratio_peak: float
    """Largest share of the force on the ground that points forward, from 0.3 s on."""
    ratio_slope_s_per_m: float
    """How that share falls with speed."""


def profile_force(
    *, max_speed_mps: float, time_constant_s: float, mass_kg: float, stature_m: float,
    air: Air | None = None, duration_s: float = 5.0,
) -> ForceVelocity:  # fmt: skip
    """Derive the force-velocity profile of a sprint.

    Parameters
    ----------
    max_speed_mps, time_constant_s : float
        Of the speed curve.
    mass_kg, stature_m : float
    air : Air, optional
    duration_s : float
        Length of the sprint over which the lines are fitted.

    Returns
    -------
    ForceVelocity

    Notes
    -----
    F = m a + k (v − w)², Samozino et al. 2016, doi:10.1111/sms.12490, with the drag of Arsac and
    Locatelli 2002. *Wrong* on a slope, into gusts, or for a curve fitted to a flying start.
    """
    air = air or Air()
    for name, value in {"mass_kg": mass_kg, "stature_m": stature_m}.items():
        if not value > 0:
            raise ValueError(f"{name}: expected > 0, got {value}")
    time_s = np.arange(0, duration_s + STEP_S / 2, STEP_S)
    decay = np.exp(-time_s / time_constant_s)
    speed_mps = max_speed_mps * (1 - decay)
    drag_n = _drag_factor(mass_kg, stature_m, air) * (speed_mps - air.wind_mps) ** 2
    force = max_speed_mps / time_constant_s * decay + drag_n / mass_kg
    slope, force_at_rest = np.polyfit(speed_mps, force, 1)
    late = time_s >= RATIO_FROM_S - STEP_S / 2
    ratio = force[late] / np.hypot(force[late], STANDARD_GRAVITY_MPS2)
    ratio_slope, _ = np.polyfit(speed_mps[late], ratio, 1)
    top_mps = float(-force_at_rest / slope)
    return ForceVelocity(
        force_n_per_kg=float(force_at_rest), speed_mps=top_mps, slope=float(slope),
        power_w_per_kg=float(force_at_rest) * top_mps / 4,
        ratio_peak=float(ratio[0]), ratio_slope_s_per_m=float(ratio_slope),
    )  # fmt: skip


def _drag_factor(mass_kg: float, stature_m: float, air: Air) -> float:
    """Drag per squared speed, N s²/m²: half density x frontal area x drag coefficient."""
    density = 1.293 * (air.pressure_torr / 760) * 273 / (273 + air.temperature_c)
    area_m2 = 0.266 * 0.2025 * stature_m**0.725 * mass_kg**0.425
    return float(0.5 * density * area_m2 * DRAG_COEFFICIENT)
