"""Turns of a doll in the air."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.turn import check_alternation, measure_turn
from measure.types import Refused
from tests.measure.landing.doll import LANDING_S, TAKE_OFF_S, Doll, clock, flight


def turning(time_s, turn_deg: float, *, start_deg: float = 0.0):
    share = np.clip((time_s - TAKE_OFF_S) / (LANDING_S - TAKE_OFF_S), 0, 1)
    return start_deg + turn_deg * share


@pytest.mark.parametrize("start_deg", [0.0, 90.0, -170.0])
@pytest.mark.parametrize("turn_deg", [0, 45, 90, -90, 180, -180, 270, 360])
def test_turns_with_their_side_and_whole_turns(turn_deg, start_deg):
    time_s = clock(60)
    track = Doll(time_s, heading_deg=turning(time_s, turn_deg, start_deg=start_deg)).film()
    turn = measure_turn(track, time_s=time_s, flight=flight())
    assert turn.value == pytest.approx(turn_deg, abs=0.5)
    # A heading side-on to the camera rests on the model's depth.
    end_deg = np.radians([start_deg, start_deg + turn_deg])
    assert turn.sigma >= np.hypot(2.5, 5.5 * np.abs(np.sin(end_deg)).max()) - 0.1


@pytest.mark.parametrize("rate_hz", [30, 60, 240])
def test_rates_and_uneven_stamps(rate_hz):
    time_s = clock(rate_hz, jitter=0.4)
    track = Doll(time_s, heading_deg=turning(time_s, -90)).film()
    assert measure_turn(track, time_s=time_s, flight=flight()).value == pytest.approx(-90, abs=0.5)


def test_cues_that_disagree_raise_the_doubt():
    time_s = clock(60)
    track = Doll(time_s, heading_deg=turning(time_s, 90)).film()
    calm = measure_turn(track, time_s=time_s, flight=flight())
    world_m = track.world_m.copy()
    world_m[time_s > LANDING_S, 23:25] = world_m[0, 23:25]
    twisted = measure_turn(
        dataclasses.replace(track, world_m=world_m), time_s=time_s, flight=flight()
    )
    assert twisted.sigma > calm.sigma + 5


@pytest.mark.parametrize("turn_deg", [0, -90])
def test_a_trunk_whose_sides_the_model_swaps_in_a_crouch_leaves_it_to_the_feet(turn_deg):
    time_s = clock(60)
    track = Doll(time_s, heading_deg=turning(time_s, turn_deg, start_deg=-40)).film()
    world_m = track.world_m.copy()
    for left in (7, 11, 23):  # ears, shoulders and hips
        after = np.ix_(time_s > LANDING_S, [left, left + 1])
        world_m[after] = world_m[after][:, ::-1]
    turn = measure_turn(
        dataclasses.replace(track, world_m=world_m), time_s=time_s, flight=flight()
    )
    assert turn.value == pytest.approx(turn_deg, abs=0.5)
    assert turn.sigma > 20


def test_turns_of_the_jumps_around_are_left_out():
    time_s = clock(60)
    heading = turning(time_s, 90) - np.where(time_s > 1.5, 90.0, 0.0)
    track = Doll(time_s, heading_deg=heading).film()
    turn = measure_turn(track, time_s=time_s, flight=flight(), free_s=(-np.inf, 1.48))
    assert turn.value == pytest.approx(90, abs=0.5)


def test_a_body_that_is_not_seen_after_landing():
    time_s = clock(60)
    track = Doll(time_s).film()
    world_m = track.world_m.copy()
    world_m[time_s > LANDING_S] = np.nan
    unseen = dataclasses.replace(track, world_m=world_m)
    assert isinstance(measure_turn(unseen, time_s=time_s, flight=flight()), Refused)


def test_a_clip_that_ends_with_the_landing():
    time_s = clock(60, end_s=LANDING_S)
    assert isinstance(
        measure_turn(Doll(time_s).film(), time_s=time_s, flight=flight()), Refused
    )


@pytest.mark.parametrize(
    ("turns_deg", "named"),
    [([90, -88, 93], None), ([90], None), ([], None), ([90, 10, 90], None),
     ([90, -90, -85], "Jumps 2 and 3 both turn to the right"),
     ([80, 95], "Jumps 1 and 2 both turn to the left")],
)  # fmt: skip
def test_alternation(turns_deg, named):
    refused = check_alternation(turns_deg)
    assert (refused is None) if named is None else refused.reason.startswith(named)
