"""The force-velocity profile of one filmed run, with the doubt of its speed curve."""

from __future__ import annotations

import numpy as np

from calibration.values import Refused
from measure.report import ForceProfile
from measure.sprint.profile import ForceVelocity, profile_force
from measure.sprint.speed import SpeedCurve

__all__ = ["profile_run"]

STEP_SHARE = 1e-4
STEEPEST_PCT = 1.0
"""On a steeper lane part of the force lifts or drops the body, which the profile leaves out."""


def profile_run(
    curve: SpeedCurve, *, mass_kg: float, stature_m: float, slope_pct: float = 0.0
) -> ForceProfile | Refused:
    """Derive a run's force-velocity profile.

    Parameters
    ----------
    curve : SpeedCurve
        Of a run from rest.
    mass_kg, stature_m : float
    slope_pct : float
        Of the lane.

    Returns
    -------
    ForceProfile or Refused
        Still air of 20 degrees at sea level is taken; the doubt is the curve's alone. Refused on a
        slope.
    """
    if abs(slope_pct) > STEEPEST_PCT:
        return Refused(
            "force_profile", f"The lane has a slope of {slope_pct:+g} %, and the profile holds on "
            "the flat.", "Run the same distance on flat ground.",
        )  # fmt: skip

    def profile(max_speed_mps: float, time_constant_s: float) -> ForceVelocity:
        return profile_force(
            max_speed_mps=max_speed_mps, time_constant_s=time_constant_s, mass_kg=mass_kg,
            stature_m=stature_m,
        )  # fmt: skip

    speed, constant = curve.max_speed_mps, curve.time_constant_s
    found = profile(speed.value, constant.value)
    faster = profile(speed.value * (1 + STEP_SHARE), constant.value)
    slower = profile(speed.value, constant.value * (1 + STEP_SHARE))
    covariance = np.array([[speed.sigma**2, curve.shared_m], [curve.shared_m, constant.sigma**2]])

    def sigma(name: str) -> float:
        at = getattr(found, name)
        change = np.array([
            (getattr(faster, name) - at) / (STEP_SHARE * speed.value),
            (getattr(slower, name) - at) / (STEP_SHARE * constant.value),
        ])  # fmt: skip
        return float(np.sqrt(max(change @ covariance @ change, 0.0)))

    return ForceProfile(
        found.force_n_per_kg, sigma("force_n_per_kg"), found.speed_mps, sigma("speed_mps"),
        found.power_w_per_kg, sigma("power_w_per_kg"), found.ratio_peak, sigma("ratio_peak"),
        found.ratio_slope_s_per_m, sigma("ratio_slope_s_per_m"), mass_kg, stature_m,
    )  # fmt: skip
