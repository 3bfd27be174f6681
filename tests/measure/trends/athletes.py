"""Athletes whose course is known: sessions on chosen days, by seed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.trends.series import Series


@dataclass(frozen=True)
class Course:
    """A straight course with true day-to-day variation and trial-to-trial scatter."""

    level_m: float = 0.30
    slope_m_per_week: float = 0.001
    day_to_day_m: float = 0.010
    trial_m: float = 0.006
    sigma_m: float = 0.003
    stray_share: float = 0.0
    stray_m: float = 0.06


def a_series(
    days: list[int], *, course: Course, seed: int, trials: int = 3, **more: object
) -> Series:
    rng = np.random.default_rng(seed)
    day = np.array(days, dtype=float)
    true_m = course.level_m + course.slope_m_per_week * day / 7
    true_m += rng.normal(0, course.day_to_day_m, day.size)
    strays = rng.random(day.size) < course.stray_share
    true_m += strays * rng.choice([-1, 1], day.size) * course.stray_m
    value = np.repeat(true_m, trials)
    value += rng.normal(0, course.trial_m, value.size) + rng.normal(0, course.sigma_m, value.size)
    return Series(
        "height_m", np.repeat(day, trials), value, np.full(value.size, course.sigma_m), **more
    )


def exactly(days: list[int], values: list[float], **more: object) -> Series:
    """A series with nothing in doubt."""
    return Series(
        more.pop("quantity", "height_m"), np.array(days, dtype=float), np.array(values),
        np.zeros(len(days)), **more,
    )  # fmt: skip
