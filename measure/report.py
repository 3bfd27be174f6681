"""The report of one clip: fields named exactly as in the JSON (flightmark.report/1)."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

from calibration.values import Refused, Scale, TimeBase
from measure.sprint_report import (
    ForceProfile,
    MarkTime,
    SplitTime,
    SprintReport,
    StepContact,
    TurnTime,
)
from measure.types import Contact, Foot, Side, View

__all__ = [
    "SCHEMA", "Caution", "ClipFacts", "ForceProfile", "JumpReport", "LandingReport", "MarkTime",
    "PerFoot", "Report", "SetNumber", "SetReport", "SideReport", "SplitTime", "SprintReport",
    "StepContact", "TurnTime", "Versions", "as_json",
]  # fmt: skip

SCHEMA = "flightmark.report/1"
PerFoot = dict[str, float]
"""A number for ``left`` and/or ``right``."""


@dataclass(frozen=True)
class ClipFacts:
    """What the file is, whoever is in it."""

    sha256: str
    width_px: int
    height_px: int
    frame_count: int
    duration_s: float
    """From the first frame to the last in real time (file time where the clock is refused)."""
    rotation_deg: int
    """Clockwise turn that the file asks for; frames are measured upright."""
    repeated_frame_count: int = 0
    missing_frame_count: int = 0
    recorded_at: str | None = None
    """When the file says it was filmed (ISO 8601, UTC)."""


@dataclass(frozen=True)
class LandingReport:
    """Posture and steadiness of one landing; degrees of flexion from straight."""

    knee_flexion_contact_deg: PerFoot | None = None
    knee_flexion_contact_sigma_deg: PerFoot | None = None
    knee_flexion_peak_deg: PerFoot | None = None
    knee_flexion_peak_sigma_deg: PerFoot | None = None
    trunk_lean_contact_deg: float | None = None
    trunk_lean_contact_sigma_deg: float | None = None
    trunk_lean_peak_deg: float | None = None
    trunk_lean_peak_sigma_deg: float | None = None
    hip_flexion_contact_deg: float | None = None
    hip_flexion_contact_sigma_deg: float | None = None
    frontal_knee_angle_deg: PerFoot | None = None
    frontal_knee_angle_sigma_deg: PerFoot | None = None
    knee_ankle_separation_ratio: float | None = None
    knee_ankle_separation_sigma_ratio: float | None = None
    foot_lag_s: float | None = None
    foot_lag_sigma_s: float | None = None
    time_to_steady_s: float | None = None
    time_to_steady_sigma_s: float | None = None
    held_s: float | None = None
    held_sigma_s: float | None = None
    extra_step: bool | None = None
    deepest_s: float | None = None
    """When the hips are lowest after this landing."""
    knee_flexion_change_deg: PerFoot | None = None
    """From contact to peak; errors that both share cancel."""
    knee_flexion_change_sigma_deg: PerFoot | None = None
    trunk_lean_change_deg: float | None = None
    trunk_lean_change_sigma_deg: float | None = None
    hip_flexion_peak_deg: float | None = None
    hip_flexion_peak_sigma_deg: float | None = None
    hip_flexion_change_deg: float | None = None
    hip_flexion_change_sigma_deg: float | None = None
    ankle_flexion_contact_deg: PerFoot | None = None
    """0 at a right angle, positive with the toes drawn up."""
    ankle_flexion_contact_sigma_deg: PerFoot | None = None
    ankle_flexion_peak_deg: PerFoot | None = None
    ankle_flexion_peak_sigma_deg: PerFoot | None = None
    trunk_side_lean_deg: float | None = None
    """At first contact, positive towards the athlete's left."""
    trunk_side_lean_sigma_deg: float | None = None
    stance_width_ratio: float | None = None
    """Ankle to ankle over shoulder to shoulder at first contact."""
    stance_width_sigma_ratio: float | None = None
    first_foot: Foot | None = None
    """Foot that touched first, where the doubt allows to say."""
    contact_part: str | None = None
    """``toe``, ``heel`` or ``flat``: what touched first."""
    hold_ended_by: str | None = None
    """``other_foot_down``, ``step``, ``hop``, ``hand_down``, ``jump`` (the next) or ``clip``."""
    is_rebounded: bool | None = None
    """The next jump follows at once, as in a row of hops."""


@dataclass(frozen=True)
class JumpReport:
    """One flight and what surrounds it. None means not measured; the refusals say why."""

    take_off_s: float
    take_off_sigma_s: float
    landing_s: float
    landing_sigma_s: float
    flight_time_s: float
    flight_time_sigma_s: float
    height_m: float
    height_sigma_m: float
    height_com_m: float | None = None
    height_com_sigma_m: float | None = None
    height_standing_m: float | None = None
    height_standing_sigma_m: float | None = None
    contact_time_s: float | None = None
    contact_time_sigma_s: float | None = None
    rsi_mps: float | None = None
    rsi_sigma_mps: float | None = None
    take_off_side: Side = "both"
    landing_side: Side = "both"
    turn_deg: float | None = None
    turn_sigma_deg: float | None = None
    landing: LandingReport | None = None


@dataclass(frozen=True)
class SetNumber:
    """One number over the jumps of a clip that left from the same foot or feet."""

    quantity: str
    """Field of the jumps, its unit at the end of the name: ``height_com_m``, ``rsi_mps``."""
    take_off_side: Side
    count: int
    best: float
    best_sigma: float
    best_jump: int
    """Number of the jump in the report, from 1."""
    mean: float
    mean_sigma: float
    spread: float | None = None
    """Standard deviation between jumps; absent for one."""
    drop_off_pct: float | None = None
    """From the best to the last, percent of the best."""
    drop_off_sigma_pct: float | None = None


@dataclass(frozen=True)
class SideReport:
    """Left against right over the jumps of a clip, by 100 (max - min) / max of the means."""

    quantity: str
    difference_pct: float
    difference_sigma_pct: float
    weaker: Foot | None
    text: str
    """One sentence; whether it is more than the athlete's own variation needs her history."""


@dataclass(frozen=True)
class SetReport:
    """All jumps of a clip together."""

    repetition_count: int
    """A row of hops is one."""
    ground_contact_count: int
    """Landings of one foot or of both together."""
    rests_s: tuple[float, ...] = ()
    """From each repetition's last landing to the next one's take-off."""
    rests_sigma_s: tuple[float, ...] = ()
    numbers: tuple[SetNumber, ...] = ()
    sides: SideReport | None = None


@dataclass(frozen=True)
class Caution:
    """Something seen that a coach usually has a word about; never a diagnosis."""

    code: str
    text: str
    seen: str
    threshold: str
    source: str
    time_s: float | None = None


@dataclass(frozen=True)
class Versions:
    """What produced the report, so that it can be made again."""

    flightmark: str
    pose_model: str
    settings_sha256: str


@dataclass(frozen=True)
class Report:
    """Everything that one clip gave, and everything it could not give with the reason."""

    clip: ClipFacts
    time_base: TimeBase
    versions: Versions
    view: View | None = None
    exercise: str | None = None
    scale: Scale | None = None
    contacts: tuple[Contact, ...] = ()
    jumps: tuple[JumpReport, ...] = ()
    jump_set: SetReport | None = None
    sprint: SprintReport | None = None
    cautions: tuple[Caution, ...] = ()
    standing_notice: str | None = None
    """What the words about landings are worth, and when to see somebody; with every landing."""
    refusals: tuple[Refused, ...] = ()


def as_json(report: Report) -> dict[str, Any]:
    """Give the report as plain JSON values; what was not measured is absent.

    Parameters
    ----------
    report : Report

    Returns
    -------
    dict
        In the form of schema ``flightmark.report/1``.
    """
    plain: dict[str, Any] = {"schema": SCHEMA}
    plain.update(_without_none(dataclasses.asdict(report)))
    plain["time_base"].pop("refusal", None)
    plain["contacts"] = [_contact_as_json(contact) for contact in report.contacts]
    return plain


def _contact_as_json(contact: Contact) -> dict[str, Any]:
    ends = {"start": contact.start, "end": contact.end}
    plain: dict[str, Any] = {"foot": contact.foot}
    for name, instant in ends.items():
        if instant is not None:
            plain[f"{name}_s"] = instant.time_s
            plain[f"{name}_sigma_s"] = instant.sigma_s
    return plain


def _without_none(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_none(item) for key, item in value.items() if item is not None}
    if isinstance(value, list | tuple):
        return [_without_none(item) for item in value]
    return value
