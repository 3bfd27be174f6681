"""Worked examples: the numbers' sources stand beside them."""

from __future__ import annotations

import numpy as np
import pytest

from measure.trends.chance import assess_change, smallest_worthwhile
from measure.trends.drop_off import measure_drop_off
from measure.trends.retest import Retest, measure_retest
from measure.trends.series import Series
from measure.trends.sessions import group_sessions
from measure.trends.side_history import follow_sides
from measure.trends.variation import detectable_change
from measure.types import Estimate, Refused
from tests.measure.trends.athletes import exactly

# Two trials of five people: Hopkins 2000, Sports Med 30:1-15, quoted in a university course.
HOPKINS = np.array([[62, 67], [78, 76], [81, 87], [55, 55], [66, 63]], dtype=float)
# A squad of ten, countermovement jumps in cm: calculated example.
SQUAD_CM = (28.4, 31.2, 26.9, 33.5, 29.8, 35.1, 27.7, 30.6, 32.3, 29.0)


def test_retest_of_five_people() -> None:
    retest = measure_retest(HOPKINS)
    assert isinstance(retest, Retest)
    # Calculated from those trials with the formulas named in the docstrings.
    assert retest.typical_error == pytest.approx(2.8896, abs=1e-3)
    assert retest.mean == pytest.approx(69.0)
    assert retest.cv_pct == pytest.approx(4.188, abs=1e-3)
    assert retest.cv_log_pct == pytest.approx(4.079, abs=1e-3)
    assert retest.detectable_change == pytest.approx(8.0097, abs=1e-3)
    assert detectable_change(retest.typical_error, confidence=0.90) == pytest.approx(
        6.722, abs=2e-3
    )
    assert retest.icc_consistency == pytest.approx(0.9384, abs=1e-3)
    assert retest.icc_agreement == pytest.approx(0.9450, abs=1e-3)
    assert retest.smallest_worthwhile == pytest.approx(2.292, abs=1e-3)


def test_a_third_trial_and_a_shift_of_all_change_nothing_but_agreement() -> None:
    rng = np.random.default_rng(3)
    people = rng.normal(0.30, 0.04, (4000, 1))
    trials = people + rng.normal(0, 0.012, (4000, 3)) + np.array([0.0, 0.01, 0.02])
    retest = measure_retest(trials)
    assert isinstance(retest, Retest)
    assert retest.typical_error == pytest.approx(0.012, rel=0.03)
    assert retest.icc_consistency == pytest.approx(0.04**2 / (0.04**2 + 0.012**2), abs=0.01)
    assert retest.icc_agreement < retest.icc_consistency - 0.02


def test_squad_and_chances_of_a_change() -> None:
    smallest = smallest_worthwhile(SQUAD_CM)
    assert smallest == pytest.approx(0.524, abs=1e-3)
    # Calculated: change of 2.0 cm, typical error 1.1, smallest worthwhile 0.52.
    change = Estimate(2.0, 1.1 * np.sqrt(2))
    chances = assess_change(change, smallest=0.52)
    assert chances.better == pytest.approx(0.829, abs=1e-3)
    assert chances.trivial == pytest.approx(0.118, abs=1e-3)
    assert chances.worse == pytest.approx(0.053, abs=1e-3)
    assert detectable_change(1.1) == pytest.approx(3.05, abs=5e-3)
    # Calculated: typical error of the mean of three such trials.
    three = Series("height_cm", np.zeros(3), np.array([30.5, 31.0, 31.5]), np.full(3, 1.1))
    assert group_sessions(three).value_sigma == pytest.approx([0.635], abs=1e-3)


def test_fewer_seconds_are_better_where_that_is_said() -> None:
    slower = assess_change(Estimate(0.05, 0.02), smallest=0.01, more_is_better=False)
    faster = assess_change(Estimate(-0.05, 0.02), smallest=0.01, more_is_better=False)
    assert slower.worse == pytest.approx(faster.better)
    assert faster.any_gain > 0.99
    few = assess_change(Estimate(-0.05, 0.02), smallest=0.01, dof=2, more_is_better=False)
    assert few.better < faster.better


def test_sprint_decrement_and_fatigue_index() -> None:
    # Times and formula as published for repeated sprints; percentages calculated.
    times = [Estimate(t, 0.003) for t in (3.20, 3.24, 3.28, 3.31, 3.35, 3.40)]
    drop = measure_drop_off(times, more_is_better=False)
    assert not isinstance(drop, Refused)
    assert drop.decrement_pct.value == pytest.approx(3.0208, abs=1e-4)
    assert drop.last_to_first_pct.value == pytest.approx(6.25)
    # 0.1 % each, and the best one's share counts 5/6 against five of 1/6.
    assert drop.decrement_pct.sigma == pytest.approx(0.09, abs=0.01)


@pytest.mark.parametrize(
    # Calculated with 100 (max - min) / max: Bishop 2016, doi:10.1519/SSC.0000000000000264.
    ("left", "right", "percent", "weaker"),
    [(0.25, 0.22, 12.0, "right"), (0.18, 0.20, 10.0, "left"), (0.2, 0.2, 0.0, None)],
)
def test_side_differences(left: float, right: float, percent: float, weaker: str | None) -> None:
    sides = follow_sides(exactly([3], [left]), exactly([3], [right]))
    assert not isinstance(sides, Refused)
    (session,) = sides.sessions
    assert session.difference.difference_pct.value == pytest.approx(percent, abs=1e-3)
    assert session.difference.weaker == weaker
    assert isinstance(sides.trend, Refused)
