"""The one shape of this room: comparable results of one athlete in order of day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.types import Floats

__all__ = ["Series"]


@dataclass(frozen=True, eq=False)
class Series:
    """One quantity of one athlete, exercise, side and method. Checked at birth.

    Results of one day are one session. What is not alike (another start rule, another method,
    another side) belongs into another series. A series equals only itself, so that what was
    worked out for it can be found again.
    """

    quantity: str
    """Name with its unit, as in the report: ``"height_m"``."""
    day: Floats
    """Whole days since any fixed day, ascending, shape (N,)."""
    value: Floats
    """Shape (N,)."""
    sigma_own: Floats
    """Standard uncertainty of each result without what all of them share, shape (N,)."""
    sigma_common: float = 0.0
    """Doubt that moves all results alike, as that of the take-off method does. It cancels in
    changes and stays in levels."""
    more_is_better: bool = True
    """False for times."""

    def __post_init__(self) -> None:
        lengths = {self.day.shape, self.value.shape, self.sigma_own.shape}
        if len(lengths) != 1 or self.day.ndim != 1:
            raise ValueError(f"day, value, sigma_own: expected one shape (N,), got {lengths}")
        for name in ("day", "value", "sigma_own"):
            if not np.isfinite(getattr(self, name)).all():
                raise ValueError(f"{name}: expected finite numbers")
        if (self.day != np.round(self.day)).any() or (np.diff(self.day) < 0).any():
            raise ValueError("day: expected whole days in ascending order")
        if (self.sigma_own < 0).any() or not self.sigma_common >= 0:
            raise ValueError("sigma_own, sigma_common: expected >= 0")
