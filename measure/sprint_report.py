"""What one run along a lane gave: fields named exactly as in the JSON (flightmark.report/1)."""

from __future__ import annotations

from dataclasses import dataclass

from measure.types import Foot


@dataclass(frozen=True)
class MarkTime:
    """The moment the hip centre passes one mark of the lane."""

    distance_m: float
    time_s: float
    time_sigma_s: float


@dataclass(frozen=True)
class SplitTime:
    """Time from one mark of the course to the next."""

    to_m: float
    time_s: float
    time_sigma_s: float
    from_m: float | None = None
    """Absent for the split from the start."""
    mean_speed_mps: float | None = None


@dataclass(frozen=True)
class TurnTime:
    """From the trailing foot's last push-off to its first touchdown of the run."""

    start_s: float
    start_sigma_s: float
    end_s: float
    end_sigma_s: float
    side: Foot
    """Towards which the body turned."""


@dataclass(frozen=True)
class ForceProfile:
    """The straight line of horizontal force over speed that a run's speed curve implies."""

    force_n_per_kg: float
    """F0, the force at no speed over the body's mass."""
    force_sigma_n_per_kg: float
    speed_mps: float
    """v0, the speed at which no force is left."""
    speed_sigma_mps: float
    power_w_per_kg: float
    """F0 v0 / 4."""
    power_sigma_w_per_kg: float
    ratio_peak: float
    """Largest share of the force on the ground that points forward."""
    ratio_peak_sigma: float
    ratio_slope_s_per_m: float
    """How that share falls with speed."""
    ratio_slope_sigma_s_per_m: float
    mass_kg: float
    stature_m: float


@dataclass(frozen=True)
class StepContact:
    """One stand of one foot in a run."""

    start_s: float
    start_sigma_s: float
    end_s: float
    end_sigma_s: float
    distance_m: float
    """Where the foot stands along the lane."""


@dataclass(frozen=True)
class SprintReport:
    """Splits of one run along a lane."""

    start_s: float | None
    start_sigma_s: float | None
    start_rule: str
    marks: tuple[MarkTime, ...]
    max_speed_mps: float | None = None
    max_speed_sigma_mps: float | None = None
    time_constant_s: float | None = None
    time_constant_sigma_s: float | None = None
    max_speed_at_m: float | None = None
    """Where the highest filmed speed was reached."""
    curve_speed_mps: float | None = None
    """What the fitted curve approaches; a short sprint does not reach it."""
    curve_speed_sigma_mps: float | None = None
    curve_offset_s: float | None = None
    """When the curve starts from rest, after ``start_s``."""
    curve_offset_sigma_s: float | None = None
    splits: tuple[SplitTime, ...] = ()
    turn: TurnTime | None = None
    step_count: int | None = None
    step_length_m: float | None = None
    step_length_sigma_m: float | None = None
    step_frequency_hz: float | None = None
    step_frequency_sigma_hz: float | None = None
    start_foot: Foot | None = None
    """The foot in front in the set position: as a person says it, else as its steps show it."""
    start_foot_chance: float | None = None
    """That the foot is the right one, where it was seen; absent where a person says it."""
    step_contacts: tuple[StepContact, ...] = ()
    contact_time_s: float | None = None
    """Median time on the ground of the steps in ``step_contacts``."""
    contact_time_sigma_s: float | None = None
    force_profile: ForceProfile | None = None
    surface: str = "unknown"
    slope_pct: float = 0.0
    followed: tuple[str, ...] = ()
    """Who was followed, where others ran too; whether the camera moved."""
