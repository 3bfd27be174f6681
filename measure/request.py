"""What is asked of one clip."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal


@dataclass(frozen=True, slots=True)
class Reference:
    """A known length marked in the upright picture, at the athlete's distance."""

    first_px: tuple[float, float]
    second_px: tuple[float, float]
    length_m: float

    def __post_init__(self) -> None:
        if not self.length_m > 0:
            raise ValueError(f"length_m: expected > 0, got {self.length_m}")


@dataclass(frozen=True, slots=True)
class ClipRequest:
    """One clip and all that a person says about it."""

    path: Path
    exercise: str | None = None
    """Key of the exercise; what is seen is proposed where it is None."""
    stature_m: float | None = None
    capture_rate_hz: float | None = None
    """Overrules what the file and gravity say about the clock."""
    reference: Reference | None = None
    latitude_deg: float | None = None
    """For local gravity; standard gravity where None."""
    sex: Literal["female", "male"] | None = None
    """Which table of body segments; their mean where None."""
    lane: Path | None = None
    """Lane file of a sprint."""
    mass_kg: float | None = None
    """Of the athlete, for the force of a sprint."""
    start_foot: Literal["left", "right"] | None = None
    """The foot in front in the set position of a sprint; in profile no picture tells it."""
    start_s: float | None = None
    """When a run starts, real seconds since the first frame, set by a person."""

    def __post_init__(self) -> None:
        if self.stature_m is not None and not 0.8 <= self.stature_m <= 2.4:
            raise ValueError(f"stature_m: expected 0.8 to 2.4 metres, got {self.stature_m}")
        if self.capture_rate_hz is not None and not 5 <= self.capture_rate_hz <= 2000:
            raise ValueError(f"capture_rate_hz: expected 5 to 2000, got {self.capture_rate_hz}")
        if self.mass_kg is not None and not 15 <= self.mass_kg <= 250:
            raise ValueError(f"mass_kg: expected 15 to 250 kilograms, got {self.mass_kg}")
        if self.start_s is not None and not self.start_s >= 0:
            raise ValueError(f"start_s: expected 0 or more, got {self.start_s}")
