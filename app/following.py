"""Repetitions over weeks: what the trend room says about them, gathered for one picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from app.repetitions import QUANTITIES, Repetition
from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.values import Estimate, Refused
from measure.jumps import JumpSettings
from measure.trends.chance import Chances, assess_change, smallest_worthwhile
from measure.trends.change import measure_change
from measure.trends.drop_off import DropOff, measure_drop_off
from measure.trends.series import Series
from measure.trends.sessions import group_sessions
from measure.trends.side_history import SideHistory, follow_sides
from measure.trends.trend import Trend, fit_trend
from measure.trends.variation import Variation, measure_variation

METHOD_SAID = (
    "Each dot is the mean of a day; its bar is one standard uncertainty. The line is fitted to the "
    "days, each by its own doubt. The band is the line ± the typical error: this athlete's own "
    "variation from day to day about the line (Hopkins 2000). A day inside the band is what "
    "usually happens. A change between two days counts as real beyond the minimal detectable "
    "change, 1.96·√2 times the typical error (Weir 2005): noise alone goes beyond it once in "
    "twenty times."
)


@dataclass(frozen=True)
class Day:
    """One day of one kind of repetition."""

    on_date: date
    value: float
    sigma: float
    best: float
    count: int


@dataclass(frozen=True)
class Following:
    """One quantity of one athlete over weeks."""

    quantity: str
    series: Series
    days: tuple[Day, ...]
    trend: Trend | Refused
    variation: Variation | Refused

    def line(self, on_date: date) -> float | None:
        """Give the trend's level on a day."""
        if isinstance(self.trend, Refused):
            return None
        return self.trend.level(float(on_date.toordinal())).value


@dataclass(frozen=True)
class Change:
    """From one time to another, and whether it stands out from noise."""

    change: Estimate
    chances: Chances | None
    detectable: float | None

    @property
    def is_real(self) -> bool | None:
        """Whether it is beyond what noise does; None where that is not known."""
        return None if self.detectable is None else abs(self.change.value) > self.detectable


def make_series(repetitions: Sequence[Repetition], quantity: str) -> Series:
    """Give repetitions of one kind as the trend room's series, by day."""
    measured = sorted(
        (each for each in repetitions if each.value(quantity) is not None),
        key=lambda each: (each.on_date, each.at),
    )
    values = np.array([each.value(quantity) for each in measured], dtype=float)
    sigmas = np.array([each.sigma(quantity) for each in measured], dtype=float)
    common = _common_sigma(quantity, values)
    return Series(
        quantity=quantity,
        day=np.array([each.on_date.toordinal() for each in measured], dtype=float),
        value=values,
        sigma_own=np.sqrt(np.maximum(sigmas**2 - common**2, (0.2 * sigmas) ** 2)),
        sigma_common=common,
        more_is_better=QUANTITIES[quantity].more_is_better,
    )


def _common_sigma(quantity: str, values: np.ndarray) -> float:
    """How far a take-off read the same way each time moves all heights together."""
    if quantity != "height_com_m" or not values.size:
        return 0.0
    speed_mps = math.sqrt(2 * STANDARD_GRAVITY_MPS2 * max(float(np.mean(values)), 0.0))
    return speed_mps * JumpSettings().common_take_off_sigma_s


def list_days(series: Series) -> tuple[Day, ...]:
    """Give a quantity by day, without asking for a trend."""
    if not series.day.size:
        return ()
    sessions = group_sessions(series)
    return tuple(
        Day(date.fromordinal(int(day)), float(value), float(sigma), float(best), int(count))
        for day, value, sigma, best, count in zip(
            sessions.day, sessions.value, sessions.value_sigma, sessions.best, sessions.count,
            strict=True,
        )
    )  # fmt: skip


def follow(repetitions: Sequence[Repetition], quantity: str) -> Following:
    """Follow one quantity of repetitions of one kind."""
    return follow_series(make_series(repetitions, quantity))


def follow_series(series: Series) -> Following:
    """Follow what is a series already."""
    if not series.day.size:
        nothing = Refused(series.quantity, "Nothing was measured.", "Film a repetition.")
        return Following(series.quantity, series, (), nothing, nothing)
    trend = fit_trend(series)
    return Following(series.quantity, series, list_days(series), trend, measure_variation(trend))


def change_since(
    following: Following, *, first_week: date, last_week: date, squad_means: Sequence[float] = ()
) -> Change | Refused:
    """Measure the change from one week to another (each given by its Monday).

    Parameters
    ----------
    following : Following
        Of one athlete and kind.
    first_week, last_week : date
    squad_means : sequence of float
        Means of the athletes of the squad, for the smallest change that matters.
    """
    series, variation, trend = following.series, following.variation, following.trend
    day_to_day = 0.0 if isinstance(trend, Refused) else trend.day_to_day
    starts = [float(day.toordinal()) for day in (first_week, last_week)]
    spans = [(start, start + 6) for start in starts]
    change = measure_change(series, before=spans[0], after=spans[1], day_to_day=day_to_day)
    if isinstance(change, Refused):
        return change
    smallest = smallest_worthwhile(squad_means) if len(squad_means) > 2 else None
    chances = None
    # Without a trend nobody knows how much the athlete varies from day to day.
    if isinstance(smallest, float) and not isinstance(trend, Refused):
        chances = assess_change(
            change, smallest=smallest, dof=trend.dof, more_is_better=series.more_is_better
        )
    known = None if isinstance(variation, Refused) else variation
    return Change(change, chances, known.detectable_change if known else None)


def drop_off(repetitions: Sequence[Repetition], quantity: str) -> DropOff | Refused:
    """Measure how a set of one day fell off, in order of filming."""
    values = [
        Estimate(float(value), each.sigma(quantity))
        for each in repetitions
        if (value := each.value(quantity)) is not None
    ]
    return measure_drop_off(values, more_is_better=QUANTITIES[quantity].more_is_better)


def compare_feet(
    left: Sequence[Repetition], right: Sequence[Repetition], quantity: str
) -> SideHistory | Refused:
    """Compare left against right over time."""
    return follow_sides(make_series(left, quantity), make_series(right, quantity))
