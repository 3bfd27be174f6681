"""Numbers with their doubt in the units that somebody reads."""

from __future__ import annotations

from dataclasses import dataclass

from app.report.quantities import show

CM_PER_INCH = 2.54
M_PER_YARD = 0.9144


@dataclass(frozen=True)
class Units:
    """Which units somebody reads: lengths of the body, and distances."""

    uses_inches: bool = False
    uses_yards: bool = False

    @property
    def length_name(self) -> str:
        """Short name of the unit of heights."""
        return "in" if self.uses_inches else "cm"

    @property
    def per_metre(self) -> float:
        """Shown units per metre of height."""
        return 100 / CM_PER_INCH if self.uses_inches else 100.0

    def length(self, value_m: float | None, sigma_m: float | None = None) -> str:
        """Give a height with its doubt and unit."""
        if value_m is None or sigma_m is None:
            return show(value_m, sigma_m) if value_m is None else self.plain_length(value_m)
        return f"{show(value_m, sigma_m, per_unit=self.per_metre, least=1)} {self.length_name}"

    def plain_length(self, value_m: float) -> str:
        """Give a height to one decimal with its unit."""
        return f"{value_m * self.per_metre:.1f} {self.length_name}"

    def distance(self, value_m: float) -> str:
        """Give a distance along the ground."""
        if self.uses_yards:
            return f"{value_m / M_PER_YARD:.4g} yd"
        return f"{value_m:g} m"

    def bare_distance(self, value_m: float) -> str:
        """Give a distance along the ground without its unit."""
        return f"{value_m / self.m_per_distance:.6g}"

    @property
    def distance_name(self) -> str:
        """Short name of the unit of distances."""
        return "yd" if self.uses_yards else "m"

    @property
    def m_per_distance(self) -> float:
        """Metres in one shown unit of distance."""
        return M_PER_YARD if self.uses_yards else 1.0

    def quantity(self, unit: str, value: float | None, sigma: float | None = None) -> str:
        """Give a number of a kind of unit: ``length``, ``time`` or ``speed``."""
        if value is None:
            return "–"
        if unit == "length":
            return self.length(value, sigma)
        if unit == "speed":
            return f"{show(value, sigma, least=2)} m/s"
        if value < 1.0:
            shown = f"{value * 1000:.0f}" if sigma is None else show(value, sigma, per_unit=1000.0)
            return f"{shown} ms"
        return f"{show(value, sigma, least=2)} s"

    def axis(self, unit: str) -> tuple[float, str]:
        """Give shown units per SI unit and their name, for an axis."""
        return {
            "length": (self.per_metre, self.length_name),
            "time": (1.0, "s"),
            "speed": (1.0, "m/s"),
        }[unit]
