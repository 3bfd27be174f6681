"""Events moved by hand: numbers against the same formulas worked out from the new moments."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2 as G
from measure.report import JumpReport, LandingReport, MarkTime, SplitTime, SprintReport
from measure.review import EventMove, Reviewed, review_events
from measure.types import Contact, Instant


def a_jump(take_off_s: float = 1.0, landing_s: float = 1.5, **more: float) -> JumpReport:
    """An ideal jump: the top lies in the middle of the flight."""
    time_s = landing_s - take_off_s
    height_m = G * time_s**2 / 8
    return JumpReport(
        take_off_s=take_off_s, take_off_sigma_s=0.003, landing_s=landing_s,
        landing_sigma_s=0.002, flight_time_s=time_s, flight_time_sigma_s=math.hypot(0.003, 0.002),
        height_m=height_m, height_sigma_m=0.003, height_com_m=height_m,
        height_com_sigma_m=G * time_s / 2 * math.hypot(0.003, 0.004), **more,
    )  # fmt: skip


def to(time_s: float, sigma_s: float = 0.010) -> Instant:
    return Instant(time_s, sigma_s)


def test_a_later_landing_makes_the_flight_longer() -> None:
    moved = review_events(Reviewed((a_jump(),)), moves=[EventMove("landing", 1, to(1.52))])
    jump = moved.jumps[0]
    assert jump.flight_time_s == pytest.approx(0.52)
    assert jump.height_m == pytest.approx(G * 0.52**2 / 8)
    assert jump.height_com_m == a_jump().height_com_m  # its top stands where it stood
    assert jump.flight_time_sigma_s == pytest.approx(math.hypot(0.003, 0.010))


def test_an_earlier_take_off_lengthens_the_rise_to_the_same_top() -> None:
    moved = review_events(Reviewed((a_jump(),)), moves=[EventMove("take_off", 1, to(0.98))])
    jump = moved.jumps[0]
    assert jump.height_com_m == pytest.approx(G * 0.27**2 / 2)
    # The top's own doubt of 4 ms stays, the take-off's 3 ms become 10.
    assert jump.height_com_sigma_m == pytest.approx(G * 0.27 * math.hypot(0.004, 0.010))


def test_local_gravity_stays_that_of_the_analysis() -> None:
    low = replace(a_jump(), height_m=9.78 * 0.5**2 / 8)
    moved = review_events(Reviewed((low,)), moves=[EventMove("landing", 1, to(1.6))])
    assert moved.jumps[0].height_m == pytest.approx(9.78 * 0.6**2 / 8)


def test_a_landing_is_the_start_of_the_next_contact() -> None:
    first = a_jump(1.0, 1.3)
    second = a_jump(
        1.5, 1.9, contact_time_s=0.2, contact_time_sigma_s=0.004, rsi_mps=1.0, rsi_sigma_mps=0.05
    )
    contact = Contact("left", to(1.3, 0.002), to(1.5, 0.003))
    moved = review_events(
        Reviewed((first, second), (contact,)), moves=[EventMove("landing", 1, to(1.32))]
    )
    assert moved.jumps[1].contact_time_s == pytest.approx(0.18)
    assert moved.jumps[1].rsi_mps == pytest.approx(second.height_m / 0.18)
    assert moved.contacts[0].start == to(1.32)
    assert moved.contacts[0].end == contact.end


def test_posture_at_touch_is_not_kept_from_the_old_moment() -> None:
    landing = LandingReport(
        knee_flexion_contact_deg={"left": 20.0}, knee_flexion_peak_deg={"left": 80.0},
        time_to_steady_s=0.8,
    )  # fmt: skip
    jump = replace(a_jump(), landing=landing)
    moved = review_events(Reviewed((jump,)), moves=[EventMove("landing", 1, to(1.52))])
    after = moved.jumps[0].landing
    assert after is not None
    assert after.knee_flexion_contact_deg is None
    assert after.knee_flexion_peak_deg == {"left": 80.0}
    assert after.time_to_steady_s == pytest.approx(0.78)
    assert "moved by hand" in moved.refusals[0].reason


def a_sprint() -> SprintReport:
    marks = tuple(MarkTime(d, t, 0.004) for d, t in ((5.0, 2.0), (10.0, 2.8), (15.0, 3.5)))
    splits = (
        SplitTime(5.0, 1.0, 0.02, None, None), SplitTime(10.0, 0.8, 0.003, 5.0, 6.25),
        SplitTime(15.0, 0.7, 0.003, 10.0, 5 / 0.7),
    )  # fmt: skip
    return SprintReport(1.0, 0.02, "first movement", marks, splits=splits)


def test_a_crossing_moves_the_splits_on_both_sides_only() -> None:
    moved = review_events(
        Reviewed(sprint=a_sprint()), moves=[EventMove("crossing", 2, to(2.82, 0.01))]
    )
    assert moved.sprint is not None
    times = [split.time_s for split in moved.sprint.splits]
    assert times == pytest.approx([1.0, 0.82, 0.68])
    assert moved.sprint.splits[0].time_sigma_s == 0.02  # untouched, with what it shares
    assert moved.sprint.splits[1].time_sigma_s == pytest.approx(math.hypot(0.004, 0.01))
    assert moved.sprint.splits[1].mean_speed_mps == pytest.approx(5 / 0.82)


def test_a_start_by_hand_is_another_start_rule() -> None:
    moved = review_events(Reviewed(sprint=a_sprint()), moves=[EventMove("start", 0, to(1.1))])
    assert moved.sprint is not None
    assert moved.sprint.start_rule == "first movement, set by hand"
    assert moved.sprint.splits[0].time_s == pytest.approx(0.9)


@pytest.mark.parametrize(
    "move",
    [
        EventMove("landing", 1, to(0.9)),
        EventMove("take_off", 1, to(1.6)),
        EventMove("take_off", 1, to(1.3)),
        EventMove("landing", 2, to(1.5)),
        EventMove("crossing", 1, to(1.5)),
    ],
)
def test_what_makes_no_sense_is_refused(move: EventMove) -> None:
    with pytest.raises(ValueError, match=r"expected|event|landing"):
        review_events(Reviewed((a_jump(),)), moves=[move])


def test_no_moves_change_nothing_and_many_take_no_time() -> None:
    measured = Reviewed(tuple(a_jump(k, k + 0.5) for k in range(30)))
    assert review_events(measured, moves=[]) == measured
    start = time.process_time()
    review_events(measured, moves=[EventMove("landing", k, to(k - 0.48)) for k in range(1, 31)])
    assert time.process_time() - start < 0.1
