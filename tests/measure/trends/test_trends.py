"""Known courses: what is told of them is right as often as it claims."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from measure.trends.change import measure_change
from measure.trends.drop_off import measure_drop_off
from measure.trends.level import Level, measure_level
from measure.trends.retest import measure_retest
from measure.trends.series import Series
from measure.trends.sessions import group_sessions
from measure.trends.side_history import SideHistory, follow_sides
from measure.trends.trend import Trend, fit_trend
from measure.trends.variation import Variation, measure_variation
from measure.types import Estimate, Refused
from tests.measure.trends.athletes import Course, a_series, exactly

WEEKLY = [7 * week for week in range(10)]
WITH_HOLES = [0, 3, 7, 31, 35, 80, 84, 120]


def trend_of(series: Series) -> Trend:
    trend = fit_trend(series)
    assert isinstance(trend, Trend)
    return trend


@pytest.mark.parametrize("days", [WEEKLY, WITH_HOLES], ids=["weekly", "missing weeks"])
def test_a_straight_course_is_found_exactly(days: list[int]) -> None:
    trend = trend_of(exactly(days, [0.3 + 0.002 * day / 7 for day in days]))
    assert trend.slope_per_week.value == pytest.approx(0.002)
    assert trend.slope_per_week.sigma < 1e-9
    assert trend.level(0).value == pytest.approx(0.3)
    assert trend.change(7, 28).value == pytest.approx(0.006)


@pytest.mark.parametrize(
    ("days", "course", "trials"),
    [
        (WEEKLY, Course(), 3),
        (WITH_HOLES, Course(), 1),
        (WEEKLY, Course(day_to_day_m=0.0, trial_m=0.0), 1),
        (WEEKLY * 2, Course(stray_share=0.06), 2),
        ([0, 7, 14, 21], Course(), 2),
    ],
    ids=["weekly", "missing weeks", "measurement only", "strays", "four sessions"],
)
def test_the_slopes_sigma_is_as_large_as_its_error(
    days: list[int], course: Course, trials: int
) -> None:
    inside68, inside95 = [], []
    for seed in range(120):
        trend = trend_of(a_series(sorted(set(days)), course=course, seed=seed, trials=trials))
        z = abs(trend.slope_per_week.value - course.slope_m_per_week) / trend.slope_per_week.sigma
        inside68.append(z < stats.t.ppf(0.8413, trend.dof))
        inside95.append(z < stats.t.ppf(0.975, trend.dof))
    # Four binomial sigmas are 0.17 and 0.08.
    assert 0.55 < np.mean(inside68) < 0.86
    assert np.mean(inside95) > 0.87


def test_a_stray_bends_nothing_and_is_named() -> None:
    clean = a_series(WEEKLY, course=Course(day_to_day_m=0.005), seed=4)
    value = clean.value.copy()
    value[clean.day == 63] -= 0.15
    bent = Series("height_m", clean.day, value, clean.sigma_own)
    plain = np.polyfit(bent.day / 7, value, 1)[0]
    trend = trend_of(bent)
    before = trend_of(clean)
    assert trend.stray_days == (63.0,)
    assert before.stray_days == ()
    moved = abs(trend.slope_per_week.value - before.slope_per_week.value)
    assert moved < abs(plain - before.slope_per_week.value) / 3


def test_each_results_own_sigma_counts() -> None:
    sharp = exactly(WEEKLY, [0.3] * 10)
    blunt = Series("height_m", sharp.day, sharp.value, np.full(10, 0.02))
    # Ten weekly points of sigma s: slope's sigma is s / sqrt(82.5).
    assert trend_of(blunt).slope_per_week.sigma == pytest.approx(0.02 / np.sqrt(82.5), rel=0.06)
    mixed = Series("height_m", sharp.day, np.where(sharp.day == 63, 0.34, 0.3),
                   np.where(sharp.day == 63, 0.5, 0.002))  # fmt: skip
    assert trend_of(mixed).slope_per_week.value == pytest.approx(0.0, abs=1e-5)


def test_what_all_results_share_moves_levels_and_no_changes() -> None:
    alone = a_series(WEEKLY, course=Course(), seed=5)
    shared = Series("height_m", alone.day, alone.value, alone.sigma_own, sigma_common=0.004)
    assert trend_of(shared).slope_per_week == trend_of(alone).slope_per_week
    level, own = trend_of(shared).level(63), trend_of(alone).level(63)
    assert level.sigma == pytest.approx(np.hypot(own.sigma, 0.004))
    before, after = measure_level(alone), measure_level(shared)
    assert isinstance(before, Level)
    assert isinstance(after, Level)
    assert isinstance(before.mean, Estimate)
    assert isinstance(after.mean, Estimate)
    assert after.mean.sigma == pytest.approx(np.hypot(before.mean.sigma, 0.004))
    assert after.best.sigma == pytest.approx(np.hypot(0.003, 0.004))


def test_progress_is_not_taken_for_variation() -> None:
    errors, inside = [], 0
    for seed in range(60):
        steep = a_series(WEEKLY, course=Course(slope_m_per_week=0.01), seed=seed)
        variation = measure_variation(fit_trend(steep))
        assert isinstance(variation, Variation)
        errors.append(variation.typical_error.value)
        true = np.sqrt(0.010**2 + (0.006**2 + 0.003**2) / 3)
        inside += variation.typical_error_range[0] < true < variation.typical_error_range[1]
    assert np.median(errors) == pytest.approx(true, rel=0.12)
    assert inside > 50
    assert variation.detectable_change == pytest.approx(
        2.7718 * variation.typical_error.value, rel=1e-4
    )


def test_trial_scatter_is_pooled_over_days() -> None:
    series = a_series([0, 1, 2, *WEEKLY[1:]], course=Course(trial_m=0.008), seed=6, trials=20)
    scatter = group_sessions(series).trial_scatter
    assert scatter is not None
    assert scatter.value == pytest.approx(np.hypot(0.008, 0.003), rel=0.12)
    assert scatter.sigma == pytest.approx(scatter.value / np.sqrt(2 * 12 * 19))


def test_a_half_effort_among_full_ones_moves_the_day_little() -> None:
    series = exactly([0, 0, 0, 7, 7, 7], [0.30, 0.302, 0.18, 0.301, 0.299, 0.300])
    sessions = group_sessions(series)
    assert sessions.value[0] > 0.285
    assert sessions.best.tolist() == [0.302, 0.301]
    times = exactly([0, 0], [3.2, 3.3], more_is_better=False)
    assert group_sessions(times).best.tolist() == [3.2]


def test_change_from_week_to_week_knows_the_days_noise() -> None:
    z = []
    for seed in range(150):
        series = a_series([0, 2, 4, 70, 73], course=Course(slope_m_per_week=0.0), seed=seed)
        change = measure_change(series, before=(0, 6), after=(70, 76), day_to_day=0.010)
        assert isinstance(change, Estimate)
        z.append(change.value / change.sigma)
    assert np.std(z) == pytest.approx(1.0, abs=0.2)
    missing = measure_change(series, before=(14, 20), after=(70, 76), day_to_day=0.01)
    assert isinstance(missing, Refused)
    assert "day 14 to day 20" in missing.reason


def test_a_lasting_side_difference_is_real_after_three_sessions() -> None:
    course = Course(day_to_day_m=0.004, trial_m=0.003)
    left = a_series(WEEKLY, course=course, seed=7)
    right = a_series(WEEKLY, course=Course(level_m=0.24, day_to_day_m=0.004, trial_m=0.003), seed=8)
    sides = follow_sides(left, right)
    assert isinstance(sides, SideHistory)
    assert sides.same_side_sessions == 10
    assert sides.sessions[-1].difference.weaker == "right"
    assert sides.sessions[-1].difference.exceeds_own_variation
    assert "in 10 sessions" in sides.sessions[-1].difference.text
    assert isinstance(sides.trend, Trend)
    assert sides.trend.level(0).value == pytest.approx(100 * np.log(0.30 / 0.24), abs=4)


def test_a_side_that_changes_starts_the_count_anew() -> None:
    sides = follow_sides(exactly([0, 7, 14], [0.2, 0.2, 0.3]), exactly([0, 7, 14], [0.3, 0.3, 0.2]))
    assert isinstance(sides, SideHistory)
    assert sides.same_side_sessions == 1
    apart = follow_sides(exactly([0], [0.2]), exactly([1], [0.2]))
    assert isinstance(apart, Refused)


@pytest.mark.parametrize(
    ("days", "reason"),
    [([], "0 sessions over 0 days"), ([0, 7, 14], "3 sessions"), ([0, 1, 2, 3], "over 3 days")],
)
def test_too_little_is_said(days: list[int], reason: str) -> None:
    series = exactly(days, [0.3] * len(days))
    for told in (fit_trend(series), measure_variation(fit_trend(series))):
        assert isinstance(told, Refused)
        assert reason in told.reason
    assert isinstance(measure_level(exactly([], [])), Refused)
    level = measure_level(exactly([0, 0], [0.3, 0.31]))
    assert isinstance(level, Level)
    assert isinstance(level.mean, Refused)
    assert isinstance(measure_retest(np.ones((2, 2))), Refused)
    assert isinstance(measure_drop_off([Estimate(0.3, 0.01)] * 2), Refused)


@pytest.mark.parametrize(
    ("day", "value", "sigma"),
    [
        ([0, 1], [0.3], [0.0, 0.0]),
        ([1, 0], [0.3, 0.3], [0.0, 0.0]),
        ([0.5], [0.3], [0.0]),
        ([0], [float("nan")], [0.0]),
        ([0], [0.3], [-1.0]),
    ],
)
def test_a_series_is_checked_at_birth(
    day: list[float], value: list[float], sigma: list[float]
) -> None:
    with pytest.raises(ValueError, match="expected"):
        Series("height_m", np.array(day), np.array(value), np.array(sigma))


@pytest.mark.parametrize(
    ("value", "sigma"),
    [
        ([0.3] * 8, [0.003] * 8),
        ([0.3] * 8, [0.0] * 8),
        ([0.0] * 8, [0.0] * 8),
        ([0.3] * 7 + [5.0], [0.003] * 7 + [1e6]),
        ([0.30, 0.31, 0.32, 0.30, 0.31, 0.30, 0.33, 0.30], [1e6] * 8),
        ([0.30, 0.31, 0.32, 0.30, 0.31, 0.30, 0.33, 0.30], [0.0] + [0.003] * 7),
        ([0.30, 0.31, 0.32, 0.30, 0.31, 30.0, 0.33, 0.30], [0.003] * 8),
        ([-0.3, 0.3] * 4, [0.003] * 8),
        ([0.3, 0.6] * 4, [0.003] * 8),
    ],
    ids=["equal", "equal without doubt", "nought", "one unsure", "all unsure", "one without doubt",
         "stray", "both signs", "two kinds"],
)  # fmt: skip
def test_what_nobody_expects_is_still_told_soberly(value: list[float], sigma: list[float]) -> None:
    days = [7.0 * week for week in range(8)]
    series = Series("height_m", np.array(days), np.array(value), np.array(sigma))
    trend = trend_of(series)
    variation = measure_variation(trend)
    assert isinstance(variation, Variation)
    assert abs(trend.slope_per_week.value) < max(0.01, 2 * trend.slope_per_week.sigma)
    low, high = variation.typical_error_range
    assert 0 <= low <= variation.typical_error.value <= high
    if max(value) == 5.0:  # an unsure session makes nothing else unsure
        assert variation.typical_error.value == pytest.approx(0.003)
        assert trend.slope_per_week.sigma < 0.001
    if max(value) == 30.0:
        assert trend.stray_days == (35.0,)
        assert variation.cv_pct is not None
        assert variation.cv_pct.value == pytest.approx(6.4, abs=0.5)
    if np.median(value) <= 0:
        assert variation.cv_pct is None
    sides = follow_sides(series, series)
    assert isinstance(sides, Refused) == (min(value) <= 0)


def test_two_results_give_a_level_with_a_wide_doubt_and_nothing_more() -> None:
    level = measure_level(exactly([0, 7], [0.30, 0.31]))
    assert isinstance(level, Level)
    assert isinstance(level.mean, Estimate)
    assert level.mean.value == pytest.approx(0.305)
    assert level.mean.sigma == pytest.approx(0.005)
    assert level.mean_dof == 1
    assert isinstance(fit_trend(exactly([0, 7], [0.30, 0.31])), Refused)


def test_a_quarter_of_strays_is_no_better_than_told() -> None:
    inside = []
    for seed in range(100):
        trend = trend_of(a_series(WEEKLY, course=Course(stray_share=0.25), seed=seed, trials=2))
        z = abs(trend.slope_per_week.value - 0.001) / trend.slope_per_week.sigma
        inside.append(z < stats.t.ppf(0.975, trend.dof))
    assert np.mean(inside) > 0.87
