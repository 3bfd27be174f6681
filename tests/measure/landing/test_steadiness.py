"""Time to steady and holding, of dolls whose unrest is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.landing.balance import Balance, watch_balance
from measure.landing.scene import Landing, set_scenes
from measure.landing.steadiness import SteadinessSettings, measure_time_to_steady
from measure.types import Estimate, Refused
from tests.measure.landing.doll import (
    END_S,
    LANDING_S,
    SCALE,
    TAKE_OFF_S,
    Doll,
    clock,
    contact,
    flight,
    one_foot,
    take_up,
    two_feet,
)


def swaying(time_s, *, until_s: float, speed_mps: float = 0.4):
    """Hips that move sideways to and fro at one speed until they stand still."""
    return speed_mps * np.abs(np.minimum(time_s, until_s) % 2.0 - 1.0)


def landing_of(doll: Doll, *, contacts=None, flights=None, scale=SCALE, noise_px=0.0) -> Landing:
    return set_scenes(
        doll.film(noise_px=noise_px), time_s=doll.time_s, flights=flights or [flight()],
        contacts=contacts or two_feet(), scale=scale,
    )[0]  # fmt: skip


@pytest.mark.parametrize("rate_hz", [30, 60, 240])
@pytest.mark.parametrize("steady_s", [0.4, 0.9])
def test_steady_from_when_the_hips_stop(rate_hz, steady_s):
    time_s = clock(rate_hz)
    doll = Doll(time_s, shift_m=swaying(time_s, until_s=LANDING_S + steady_s))
    steady = measure_time_to_steady(landing_of(doll, noise_px=0.3))
    assert isinstance(steady, Estimate)
    assert steady.value == pytest.approx(steady_s, abs=0.10)
    assert 0.02 <= steady.sigma < 0.2


def swapping_hips(track, rows_apart: int = 4):
    """Hips that trade places every few rows, as a model does with legs in line."""
    px = track.px.copy()
    turn = (np.arange(len(px)) // rows_apart) % 2 == 1
    middle = px[:, [23, 24]].mean(axis=1)
    for hip, side in ((23, 1), (24, -1)):
        reach = np.where(turn, -side, side)[:, None] * np.array([12.0, 0.0])
        # The middle itself shakes with them, a little over a centimetre to and fro.
        px[:, hip] = middle + reach + np.where(turn, 1.3, -1.3)[:, None] * np.array([1.0, 0.0])
    return replace(track, px=px)


def test_hips_that_trade_places_are_looked_at_for_longer():
    time_s = clock(60)
    doll = Doll(time_s, shift_m=swaying(time_s, until_s=LANDING_S + 0.9))
    landing = landing_of(doll)
    shaking = replace(landing, track=swapping_hips(landing.track))
    steady = measure_time_to_steady(shaking)
    assert isinstance(steady, Estimate)
    assert steady.value == pytest.approx(0.9, abs=0.15)
    hasty = measure_time_to_steady(shaking, settings=SteadinessSettings(restless_half_width_s=0.1))
    assert steady.sigma < 0.2 < hasty.sigma


def test_slow_all_along_is_steady_at_once():
    steady = measure_time_to_steady(landing_of(Doll(clock(60), knee_deg=20.0)))
    assert steady.value == pytest.approx(0.0, abs=0.02)


def test_on_one_leg_the_doubt_is_larger():
    doll = Doll(clock(60), knee_deg=20.0)
    on_one = landing_of(
        doll, contacts=one_foot("left"), flights=[flight(off="left", on="left")]
    )
    assert measure_time_to_steady(landing_of(doll)).sigma < 0.05
    assert measure_time_to_steady(on_one).sigma >= 0.10


def test_never_steady_is_refused():
    time_s = clock(60)
    refused = measure_time_to_steady(landing_of(Doll(time_s, shift_m=swaying(time_s, until_s=9))))
    assert isinstance(refused, Refused)
    assert "two seconds" in refused.hint


def test_without_a_scale_there_is_no_speed():
    refused = measure_time_to_steady(landing_of(Doll(clock(60)), scale=None))
    assert isinstance(refused, Refused)
    assert "stature" in refused.hint


def held_of(contacts, *, flights=None, doll=None, steady_s=0.6) -> Balance:
    time_s = clock(60)
    doll = doll or Doll(time_s, knee_deg=take_up(time_s, contact=20, peak=60, rest=10))
    return watch_balance(landing_of(doll, contacts=contacts, flights=flights), steady_s=steady_s)


def test_held_to_the_end_of_the_clip():
    balance = held_of(two_feet())
    assert balance.ended_by == "clip"
    assert balance.held_s.value == pytest.approx(END_S - LANDING_S, abs=0.02)
    assert not balance.is_lost


def test_the_other_foot_down():
    contacts = [*one_foot("left"), contact("right", LANDING_S + 0.8, None)]
    balance = held_of(contacts, flights=[flight(off="left", on="left")])
    assert balance.is_lost
    assert balance.events[0].kind == "other_foot_down"
    assert balance.held_s.value == pytest.approx(0.8)
    # A foot that is put down softly has no sharp touchdown.
    assert balance.held_s.sigma > 0.03


def test_a_step_before_and_after_being_held():
    def stepping(after_s):
        left = [
            contact("left", None, TAKE_OFF_S), contact("left", LANDING_S, LANDING_S + after_s),
            contact("left", LANDING_S + after_s + 0.3, None),
        ]  # fmt: skip
        return [*left, contact("right", None, TAKE_OFF_S), contact("right", LANDING_S, None)]

    early, late = held_of(stepping(0.5)), held_of(stepping(1.5))
    assert early.is_lost
    assert early.events[0].kind == "step"
    assert not late.is_lost
    assert late.held_s.value == pytest.approx(1.5)
    assert held_of(stepping(1.5), steady_s=1.8).is_lost


@pytest.mark.parametrize(("held_s", "is_lost"), [(1.4, False), (0.6, True)])
def test_a_jump_whose_landing_is_missing_is_no_step_but_a_quick_one_may_be(held_s, is_lost):
    leaving_s = LANDING_S + held_s
    contacts = [
        contact(foot, start_s, end_s + late_s)
        for foot, late_s in (("left", 0.0), ("right", 0.01))
        for start_s, end_s in ((None, TAKE_OFF_S), (LANDING_S, leaving_s))
    ]
    balance = held_of(contacts)
    assert balance.is_lost == is_lost
    assert balance.ended_by == ("event" if is_lost else "jump")
    assert balance.held_s.value == pytest.approx(held_s, abs=0.1)


@pytest.mark.parametrize(("lasts_s", "is_lost"), [(0.40, False), (0.05, True)])
def test_a_jump_that_was_seen_and_not_timed_ends_the_landing(lasts_s, is_lost):
    """Feet that leave for the next hop are no step, whether its landing is in the picture or not.

    A small hop is.
    """
    leaving_s = LANDING_S + 0.25
    contacts = [
        contact(foot, start_s, end_s)
        for foot in ("left", "right")
        for start_s, end_s in ((None, TAKE_OFF_S), (LANDING_S, leaving_s))
    ]
    time_s = clock(60)
    landing = set_scenes(
        Doll(time_s).film(), time_s=time_s, flights=[flight()], contacts=contacts,
        untimed_s=[(leaving_s + 0.03, leaving_s + 0.03 + lasts_s)],
    )[0]  # fmt: skip
    assert landing.is_rebounded != is_lost
    assert watch_balance(landing).is_lost == is_lost


def test_a_small_hop_saves_the_balance_and_is_no_jump():
    hop = flight(LANDING_S + 0.5, LANDING_S + 0.6, off="left", on="left")
    contacts = [
        contact("left", None, TAKE_OFF_S), contact("left", LANDING_S, LANDING_S + 0.5),
        contact("left", LANDING_S + 0.6, None),
    ]  # fmt: skip
    balance = held_of(contacts, flights=[flight(off="left", on="left"), hop])
    assert balance.events[0].kind == "hop"
    assert balance.is_lost


def test_a_hand_down():
    time_s = clock(60)
    down = (time_s > LANDING_S + 0.4) & (time_s < LANDING_S + 0.7)
    balance = held_of(two_feet(), doll=Doll(time_s, hands_down=down))
    assert balance.events[0].kind == "hand_down"
    assert balance.is_lost
    glance = (time_s > LANDING_S + 0.4) & (time_s < LANDING_S + 0.45)
    assert not held_of(two_feet(), doll=Doll(time_s, hands_down=glance)).events


def test_the_next_jump_ends_the_hold_and_is_no_fault():
    contacts = [
        contact("left", None, TAKE_OFF_S), contact("right", None, TAKE_OFF_S),
        contact("left", LANDING_S, 2.8), contact("right", LANDING_S, 2.8),
        contact("left", 3.2, None), contact("right", 3.2, None),
    ]  # fmt: skip
    balance = held_of(contacts, flights=[flight(), flight(2.8, 3.2)])
    assert balance.ended_by == "jump"
    assert not balance.is_lost
    assert balance.held_s.value == pytest.approx(1.5, abs=0.05)


def test_an_unmeasured_lift_is_placed_by_the_next_touchdown():
    contacts = [
        contact("left", None, TAKE_OFF_S), contact("left", LANDING_S, None),
        contact("left", LANDING_S + 0.6, None),
    ]  # fmt: skip
    balance = held_of(contacts, flights=[flight(off="left", on="left")])
    assert balance.is_lost
