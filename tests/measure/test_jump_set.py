"""Sets of known jumps summed up."""

from __future__ import annotations

from dataclasses import replace

import pytest

from measure.jump_set import summarise_jumps
from measure.report import JumpReport
from tests.measure.landing.doll import contact


def jump(take_off_s: float, height_m: float, *, side: str = "both", **more) -> JumpReport:
    time_s = (8 * height_m / 9.80665) ** 0.5
    return JumpReport(
        take_off_s, 0.003, take_off_s + time_s, 0.001, time_s, 0.003, height_m, 0.004,
        take_off_side=side, landing_side=side, **more,
    )  # fmt: skip


def test_three_jumps_with_pauses():
    found = summarise_jumps([jump(1, 0.30), jump(6, 0.32), jump(12, 0.24)], contacts=[])
    assert (found.repetition_count, found.ground_contact_count) == (3, 3)
    assert found.rests_s == pytest.approx((6 - 1 - 0.4947, 12 - 6 - 0.5109), abs=1e-3)
    assert len(found.rests_sigma_s) == 2
    (height,) = found.numbers
    assert (height.quantity, height.take_off_side, height.count) == ("height_m", "both", 3)
    assert (height.best, height.best_jump) == (0.32, 2)
    assert height.mean == pytest.approx(0.2867, abs=1e-4)
    assert height.spread == pytest.approx(0.0416, abs=1e-4)
    assert height.drop_off_pct == pytest.approx(25.0)
    assert found.sides is None


def test_left_and_right_are_kept_apart_and_compared():
    """Left 25 and right 22 cm differ by 12 %: 100 (max - min) / max."""
    jumps = [jump(1, 0.25, side="left"), jump(6, 0.22, side="right"),
             jump(12, 0.25, side="left"), jump(18, 0.22, side="right")]  # fmt: skip
    found = summarise_jumps(jumps, contacts=[])
    assert {(number.take_off_side, number.mean) for number in found.numbers} == {
        ("left", 0.25), ("right", 0.22),
    }  # fmt: skip
    assert found.sides.difference_pct == pytest.approx(12.0)
    assert found.sides.weaker == "right"
    assert found.sides.quantity == "height_m"


def test_sides_go_by_the_rise_where_all_have_it():
    jumps = [
        replace(jump(1, 0.25, side="left"), height_com_m=0.20, height_com_sigma_m=0.004),
        replace(jump(6, 0.25, side="right"), height_com_m=0.18, height_com_sigma_m=0.004),
    ]
    assert summarise_jumps(jumps, contacts=[]).sides.quantity == "height_com_m"
    half = [jumps[0], jump(6, 0.22, side="right")]
    assert summarise_jumps(half, contacts=[]).sides.quantity == "height_m"


def test_hops_are_one_repetition_with_their_ratios():
    hops = [
        jump(1.0, 0.2, contact_time_s=0.2, rsi_mps=1.0, rsi_sigma_mps=0.02),
        jump(1.6, 0.2, contact_time_s=0.2, rsi_mps=0.9, rsi_sigma_mps=0.02),
    ]
    contacts = [contact(foot, start, end) for foot in ("left", "right")
                for start, end in ((None, 0.5), (0.8, 1.0), (1.4, 1.6), (2.0, None))]  # fmt: skip
    found = summarise_jumps(hops, contacts=contacts)
    assert (found.repetition_count, found.ground_contact_count) == (1, 3)
    assert found.rests_s == ()
    ratio = next(number for number in found.numbers if number.quantity == "rsi_mps")
    assert (ratio.best, ratio.drop_off_pct) == (1.0, pytest.approx(10.0))


def test_nothing_jumped_is_no_set():
    assert summarise_jumps([], contacts=[]) is None
