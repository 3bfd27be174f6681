"""The small values every room shares: a number with its doubt, an honest no, a clock, a scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Estimate:
    """A measured number and its standard uncertainty, in the same unit."""

    value: float
    """Best estimate."""
    sigma: float
    """Standard uncertainty (one standard deviation), never negative."""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise ValueError(f"value: expected a finite number, got {self.value}")
        if not (math.isfinite(self.sigma) and self.sigma >= 0):
            raise ValueError(f"sigma: expected a finite number >= 0, got {self.sigma}")


@dataclass(frozen=True, slots=True)
class Refused:
    """A measurement that could not be made, and what would make it possible."""

    what: str
    """Name of the quantity or step, as in the report: ``"height_m"``, ``"jump 2 landing"``."""
    reason: str
    """What was seen that rules it out, one sentence."""
    hint: str
    """What to film or give differently, one sentence."""


@dataclass(frozen=True, slots=True)
class TimeBase:
    """The only way from file time to real time."""

    status: Literal["as_filed", "slow_motion", "refused"]
    """``refused`` means that no time in this clip may be reported."""
    capture_rate_hz: float
    """Pictures per real second."""
    file_s_per_s: float
    """Seconds of file time per second of real time: 8 for 240 Hz written at 30 Hz."""
    evidence: tuple[str, ...]
    """One sentence per piece of evidence, for the report."""
    refusal: Refused | None = None
    """Set exactly when ``status`` is ``refused``."""
    checked_by_gravity: bool = False
    """True where the fall in at least one flight confirms ``file_s_per_s``."""

    def __post_init__(self) -> None:
        if not self.file_s_per_s > 0:
            raise ValueError(f"file_s_per_s: expected > 0, got {self.file_s_per_s}")
        if (self.refusal is not None) != (self.status == "refused"):
            raise ValueError("refusal: expected exactly when status is 'refused'")


@dataclass(frozen=True, slots=True)
class Scale:
    """Metres per pixel at the athlete's distance."""

    m_per_px: float
    m_per_px_sigma: float
    source: Literal["stature", "reference", "gravity"]

    def __post_init__(self) -> None:
        if not self.m_per_px > 0:
            raise ValueError(f"m_per_px: expected > 0, got {self.m_per_px}")
        if not self.m_per_px_sigma >= 0:
            raise ValueError(f"m_per_px_sigma: expected >= 0, got {self.m_per_px_sigma}")
