"""What of an athlete's numbers stands out from noise, in a few lines for each kind of jump."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from itertools import groupby
from typing import TYPE_CHECKING

from app.exercises import name_exercise
from app.following import make_series
from app.repetitions import MOSTLY, QUANTITIES, sigma_name
from app.report.quantities import show_cm
from measure.trends.level import measure_level
from measure.trends.trend import Trend, fit_trend
from measure.trends.variation import Variation, measure_variation
from measure.types import Refused

if TYPE_CHECKING:
    from app.history import JumpRecord
    from measure.trends.series import Series


@dataclass(frozen=True)
class _Kept:
    """A kept jump as the trend room's series are made of."""

    kept: JumpRecord

    @property
    def on_date(self) -> date:
        return self.kept.on_date

    @property
    def at(self) -> datetime:
        return self.kept.recorded_at or datetime.combine(self.on_date, time(), UTC)

    def value(self, key: str) -> float | None:
        return getattr(self.kept.jump, key)

    def sigma(self, key: str) -> float:
        return float(getattr(self.kept.jump, sigma_name(key)) or 0.0)


def render_noise(jumps: Sequence[JumpRecord]) -> list[str]:
    """Give best, mean, own variation and trend of each kind of jump; nothing where there is none.

    Parameters
    ----------
    jumps : sequence of JumpRecord
        From the oldest to the newest.

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    for (exercise, side), alike in groupby(sorted(jumps, key=_kind), key=_kind):
        repetitions = [_Kept(each) for each in alike]
        have = sum(each.value("height_com_m") is not None for each in repetitions)
        key = "height_com_m" if have >= MOSTLY * len(repetitions) else "height_m"
        series = make_series(repetitions, key)  # type: ignore[arg-type]
        off = "both feet" if side == "both" else f"the {side} foot"
        name = f"{name_exercise(exercise or None)} ({QUANTITIES[key].name}, off {off})"
        lines += [f"  {name}:", *(f"    {line}" for line in _facts(series))]
    return lines and ["", "What stands out from noise", *lines]


def _kind(kept: JumpRecord) -> tuple[str, str]:
    return kept.exercise or "", kept.jump.take_off_side


def _facts(series: Series) -> Iterator[str]:
    level = measure_level(series)
    assert not isinstance(level, Refused)  # there is a jump
    best = f"best {show_cm(level.best.value, level.best.sigma)} cm on {_day(level.best_day)}"
    if isinstance(level.mean, Refused):
        yield best
    else:
        mean = show_cm(level.mean.value, level.mean.sigma)
        yield f"{best}; mean {mean} cm over {level.session_count} days"
    trend = fit_trend(series)
    if isinstance(trend, Trend):
        yield from _course(trend)
    else:
        yield f"no trend yet: {trend.reason} {trend.hint}"


def _course(trend: Trend) -> Iterator[str]:
    slope = trend.slope_per_week
    yield f"trend {'+' if slope.value >= 0 else ''}{show_cm(slope.value, slope.sigma)} cm a week"
    variation = measure_variation(trend)
    assert isinstance(variation, Variation)  # there is a trend
    low, high = variation.typical_error_range
    share = variation.cv_pct and f" ({variation.cv_pct.value:.0f} %)"
    yield (
        f"own variation from day to day {variation.typical_error.value * 100:.1f} cm{share or ''}, "
        f"perhaps {low * 100:.1f} to {high * 100:.1f}"
    )
    yield (
        f"a change between two days is hardly noise beyond {variation.detectable_change * 100:.1f} "
        "cm (95 %)"
    )
    if trend.stray_days:
        yield f"far off the line and held back: {', '.join(map(_day, trend.stray_days))}"


def _day(number: float) -> str:
    return date.fromordinal(int(number)).isoformat()
