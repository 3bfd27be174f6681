"""Left against right."""

from __future__ import annotations

import numpy as np
import pytest

from measure.sides import compare_sides
from measure.types import Estimate, Refused


@pytest.mark.parametrize(
    ("left", "right", "percent", "weaker"),
    [(25.0, 22.0, 12.000, "right"), (18.0, 20.0, 10.000, "left"), (20.0, 20.0, 0.0, None)],
)
def test_worked_examples_of_the_difference(left, right, percent, weaker):
    """100 (max - min) / max, worked by hand in the collection of published checks."""
    found = compare_sides(left=Estimate(left, 0.5), right=Estimate(right, 0.5))
    assert found.difference_pct.value == pytest.approx(percent, abs=0.001)
    assert found.weaker == weaker


def test_doubt_is_that_of_the_ratio():
    found = compare_sides(left=Estimate(25.0, 1.0), right=Estimate(20.0, 1.0))
    assert found.difference_pct.sigma == pytest.approx(100 * 0.8 * (0.04**2 + 0.05**2) ** 0.5)


def test_doubt_covers_simulated_errors():
    rng = np.random.default_rng(3)
    shots = 100 * (1 - (20 + rng.normal(0, 0.5, 9999)) / (25 + rng.normal(0, 0.5, 9999)))
    found = compare_sides(left=Estimate(25.0, 0.5), right=Estimate(20.0, 0.5))
    assert found.difference_pct.sigma == pytest.approx(shots.std(), rel=0.05)


@pytest.mark.parametrize(
    ("variation", "sessions", "exceeds", "words"),
    [(None, 1, None, "not known yet"), (15.0, 5, False, "within the athlete's own variation"),
     (5.0, 1, True, "only 1 of the 3 sessions"), (5.0, 3, True, "on the same side in 3 sessions")],
)  # fmt: skip
def test_the_sentence_against_her_own_variation(variation, sessions, exceeds, words):
    found = compare_sides(
        left=Estimate(25.0, 0.3), right=Estimate(22.0, 0.3), own_variation_pct=variation,
        same_side_sessions=sessions,
    )  # fmt: skip
    assert found.exceeds_own_variation == exceeds
    assert words in found.text
    assert "right side" in found.text


def test_a_difference_within_its_doubt_is_not_real():
    found = compare_sides(
        left=Estimate(25.0, 3.0), right=Estimate(22.0, 3.0), own_variation_pct=5.0
    )
    assert found.exceeds_own_variation is False


def test_nothing_to_compare():
    assert isinstance(compare_sides(left=Estimate(0.0, 1.0), right=Estimate(2.0, 1.0)), Refused)
