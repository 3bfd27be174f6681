"""Steps of a drawn shoe: toe and heel, and a speed that nobody knew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import measure.contacts.step as step
from calibration.values import Refused
from measure.contacts.judge import FootEvent, time_foot
from measure.contacts.step import time_step_landing
from measure.types import Instant
from tests.measure.contacts.drawn_shoe import INSTANT_S, patch_trace, plan_of

PLAN = replace(plan_of("landing", coarse_s=0.0), flight=None)


def _answers(
    monkeypatch: pytest.MonkeyPatch, *, patch_count: int = 2, speed_mps: float = 0.6,
    **by_end: float | None,
) -> FootEvent | Refused:  # fmt: skip
    """Times of toe and heel, 4 ms of doubt each, None for an end that was not followed."""
    def answer(end: str, *_: object, **__: object) -> FootEvent | Refused:
        time_s = by_end[end]
        if time_s is None:
            return Refused("left foot landing at 1.00 s", "not followed", "More light.")
        return FootEvent("left", Instant(time_s, 0.004), patch_count, 0.001)

    monkeypatch.setattr(step, "_time_end", answer)
    plan = replace(PLAN, speed_mps=speed_mps)
    return time_step_landing(plan, [], px_per_m=250.0, interval_s=1 / 60)


@pytest.mark.parametrize(
    ("toe_s", "heel_s", "expected_s"),
    [(1.03, 1.00, 1.00), (1.00, 1.03, 1.00), (1.10, 1.00, 1.10), (1.00, None, 1.00),
     (None, 1.00, 1.00)],
)  # fmt: skip
def test_the_end_that_is_down_first_counts_unless_it_cannot_belong(
    monkeypatch: pytest.MonkeyPatch, toe_s: float | None, heel_s: float | None, expected_s: float
) -> None:
    found = _answers(monkeypatch, toe=toe_s, heel=heel_s)
    assert isinstance(found, FootEvent)
    assert found.instant.time_s == expected_s


def test_neither_end_is_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    found = _answers(monkeypatch, toe=None, heel=None)
    assert isinstance(found, Refused)
    assert "left foot" in found.what


def test_one_patch_alone_makes_no_slow_step(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = _answers(monkeypatch, toe=None, heel=1.0, patch_count=1)
    assert isinstance(alone, Refused)
    assert "left foot" in alone.what
    fast = _answers(monkeypatch, toe=None, heel=1.0, patch_count=1, speed_mps=1.2)
    assert isinstance(fast, FootEvent)
    backed = _answers(monkeypatch, toe=1.002, heel=1.0, patch_count=1)
    assert isinstance(backed, FootEvent)


@pytest.mark.parametrize("guess_mps", [0.45, 0.8, 1.6])
def test_a_wrong_guess_of_the_speed_does_not_matter(guess_mps: float) -> None:
    """A step meets the ground at 1.05 m/s; 0.45 alone would call that no landing of this foot."""
    rng = np.random.default_rng(8)
    traces = [patch_trace("landing", INSTANT_S, 120.0, rng, speed_mps=1.05) for _ in range(3)]
    plan = replace(PLAN, speed_mps=guess_mps)
    found = time_step_landing(plan, traces, px_per_m=240.0, interval_s=1 / 120)
    assert isinstance(found, FootEvent)
    assert found.instant.time_s == pytest.approx(INSTANT_S, abs=0.004)
    if guess_mps == 0.45:
        alone = time_foot(plan, traces, px_per_m=240.0, interval_s=1 / 120)
        assert isinstance(alone, Refused)
