"""One landing as it goes into the report: what the view shows, and why the rest is absent."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from measure.landing.balance import watch_balance
from measure.landing.frontal import Frontal, measure_frontal
from measure.landing.posture import LegPosture, Posture, measure_posture
from measure.landing.scene import Landing
from measure.landing.steadiness import measure_time_to_steady
from measure.landing.touch import FootLag, measure_contact_part, measure_foot_lag
from measure.report import LandingReport
from measure.types import Estimate, Foot, Refused

__all__ = ["report_landing"]


def report_landing(landing: Landing) -> tuple[LandingReport, list[Refused]]:
    """Measure everything about one landing that its view can show.

    Parameters
    ----------
    landing : Landing
        One of `set_scenes`.

    Returns
    -------
    LandingReport
        What is absent has its reason among the refusals.
    list of Refused
        The same words for every landing of a clip where the reason is the same, so that equal
        ones can be dropped.
    """
    refusals: list[Refused] = []
    numbers: dict[str, Any] = {"is_rebounded": landing.is_rebounded}
    deepest = landing.deepest_row()
    if deepest is not None:
        numbers["deepest_s"] = float(landing.time_s[deepest])
    for part in (_posture_numbers, _frontal_numbers, _touch_numbers, _balance_numbers):
        found, refused = part(landing)
        numbers |= found
        refusals += refused
    return LandingReport(**numbers), refusals


_Found = tuple[dict[str, Any], list[Refused]]


def _posture_numbers(landing: Landing) -> _Found:
    posture = measure_posture(landing)
    if isinstance(posture, Refused):
        return {}, [posture]
    trunk = posture.trunk
    numbers = {
        **_with_sigma("trunk_lean_contact", "deg", trunk.contact_deg),
        **_with_sigma("trunk_lean_peak", "deg", trunk.peak_deg),
        **_with_sigma("trunk_lean_change", "deg", trunk.change_deg),
    }
    if not posture.legs:
        return numbers, list(posture.refusals)
    per_foot: Mapping[str, Callable[[LegPosture], Estimate]] = {
        "knee_flexion_contact": lambda leg: leg.knee.contact_deg,
        "knee_flexion_peak": lambda leg: leg.knee.peak_deg,
        "knee_flexion_change": lambda leg: leg.knee.change_deg,
        "ankle_flexion_contact": lambda leg: leg.ankle.contact_deg,
        "ankle_flexion_peak": lambda leg: leg.ankle.peak_deg,
    }
    for name, pick in per_foot.items():
        numbers |= _per_foot(name, {foot: pick(leg) for foot, leg in posture.legs.items()})
    return numbers | _hip_numbers(posture), list(posture.refusals)


def _hip_numbers(posture: Posture) -> dict[str, Any]:
    """Mean of the legs that are seen; their errors are shared, so the doubt stays."""
    hips = [leg.hip for leg in posture.legs.values()]
    numbers: dict[str, Any] = {}
    for name, bends in (
        ("hip_flexion_contact", [hip.contact_deg for hip in hips]),
        ("hip_flexion_peak", [hip.peak_deg for hip in hips]),
        ("hip_flexion_change", [hip.change_deg for hip in hips]),
    ):
        mean = sum(bend.value for bend in bends) / len(bends)
        numbers |= _with_sigma(name, "deg", Estimate(mean, max(bend.sigma for bend in bends)))
    return numbers


def _frontal_numbers(landing: Landing) -> _Found:
    frontal = measure_frontal(landing)
    if isinstance(frontal, Refused):
        return {}, [frontal]
    return _frontal_fields(frontal), []


def _frontal_fields(frontal: Frontal) -> dict[str, Any]:
    numbers = _with_sigma("trunk_side_lean", "deg", frontal.side_lean_deg)
    if frontal.knee_angle_deg:
        numbers |= _per_foot("frontal_knee_angle", frontal.knee_angle_deg)
    if frontal.separation_ratio is not None:
        numbers |= _with_sigma("knee_ankle_separation", "ratio", frontal.separation_ratio)
    if frontal.stance_ratio is not None:
        numbers |= _with_sigma("stance_width", "ratio", frontal.stance_ratio)
    return numbers


def _touch_numbers(landing: Landing) -> _Found:
    numbers: dict[str, Any] = {}
    refusals: list[Refused] = []
    if landing.flight.landing_side == "both":
        lag = measure_foot_lag(landing)
        if isinstance(lag, FootLag):
            numbers |= _with_sigma("foot_lag", "s", lag.lag_s) | {"first_foot": lag.first_foot}
        else:
            refusals.append(lag)
    part = measure_contact_part(landing)
    if isinstance(part, Refused):
        refusals.append(part)
    else:
        numbers["contact_part"] = part
    return numbers, refusals


def _balance_numbers(landing: Landing) -> _Found:
    """Steadiness and hold; nobody holds the landings within a row of hops."""
    if landing.is_rebounded:
        return {}, []
    numbers: dict[str, Any] = {}
    refusals: list[Refused] = []
    steady = measure_time_to_steady(landing)
    if isinstance(steady, Refused):
        refusals.append(steady)
    else:
        numbers |= _with_sigma("time_to_steady", "s", steady)
    balance = watch_balance(
        landing, steady_s=None if isinstance(steady, Refused) else steady.value
    )
    numbers |= _with_sigma("held", "s", balance.held_s)
    numbers["extra_step"] = balance.is_lost
    numbers["hold_ended_by"] = balance.events[0].kind if balance.events else balance.ended_by
    return numbers, refusals


def _with_sigma(name: str, unit: str, estimate: Estimate) -> dict[str, Any]:
    return {f"{name}_{unit}": estimate.value, f"{name}_sigma_{unit}": estimate.sigma}


def _per_foot(name: str, estimates: Mapping[Foot, Estimate]) -> dict[str, Any]:
    return {
        f"{name}_deg": {foot: estimate.value for foot, estimate in estimates.items()},
        f"{name}_sigma_deg": {foot: estimate.sigma for foot, estimate in estimates.items()},
    }
