"""Rough flights from pose: known jumps at any rate and on any clock, and what is no jump."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.contacts.coarse import CoarseFlight, Lift, find_flights, find_lifts
from measure.contacts.floor import FootHeights, measure_foot_heights
from measure.types import FEET, Floats, Landmark, PoseTrack
from tests.known_motions import IdealJump, even_stamps, runner, uneven_stamps
from tests.measure.contacts.stick_walks import (
    M_PER_PX,
    box_drop,
    bump,
    foot_moved,
    standing,
    walk_towards_camera,
)

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)


def _lifts(track: PoseTrack) -> list[Lift]:
    return find_lifts(measure_foot_heights(track))


def _flights(track: PoseTrack, time_s: Floats) -> list[CoarseFlight]:
    heights = measure_foot_heights(track)
    return find_flights(find_lifts(heights), track, time_s, stride=heights.stride)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 120.0, 240.0])
@pytest.mark.parametrize("height_m", [0.20, 0.30, 0.60])
def test_a_jump_is_found_at_every_rate(rate_hz: float, height_m: float) -> None:
    jump = IdealJump(height_m=height_m, take_off_s=1.5)
    time_s = even_stamps(rate_hz, duration_s=3.5)
    track = jump.track(time_s, noise_px=1.0, rng=np.random.default_rng(1))
    (flight,) = _flights(track, time_s)
    margin_s = max(0.05, 2 / rate_hz)
    assert 0 <= flight.start_s - jump.take_off_s < margin_s
    assert 0 <= jump.landing_s - flight.end_s < margin_s
    assert flight.start_s == time_s[flight.first_row]
    assert flight.end_s == time_s[flight.last_row]
    assert flight.is_jump
    assert flight.apex_s == pytest.approx(jump.apex_s, abs=0.02)
    doubt = 3 * flight.fall_sigma_px_per_s2 * M_PER_PX
    assert flight.fall_px_per_s2 * M_PER_PX == pytest.approx(9.81, abs=0.06 * 9.81 + doubt)
    assert [lift.foot for lift in flight.lifts] == ["left", "right"]


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_a_low_jump_is_found(rate_hz: float) -> None:
    jump = IdealJump(height_m=0.10, take_off_s=1.5)
    time_s = even_stamps(rate_hz, duration_s=3.5)
    assert len(_flights(jump.track(time_s), time_s)) == 1


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_a_jump_is_found_however_long_she_stands_about(rate_hz: float) -> None:
    time_s = even_stamps(rate_hz, duration_s=30.0)
    assert len(_flights(JUMP.track(time_s), time_s)) == 1


def test_uneven_stamps_change_nothing() -> None:
    rng = np.random.default_rng(9)
    time_s = uneven_stamps(60.0, duration_s=3.5, rng=rng)
    (flight,) = _flights(JUMP.track(time_s, noise_px=1.0, rng=rng), time_s)
    assert flight.fall_px_per_s2 * M_PER_PX == pytest.approx(STANDARD_GRAVITY_MPS2, rel=0.06)
    assert flight.start_s == pytest.approx(JUMP.take_off_s, abs=0.05)


def test_slow_motion_changes_the_fall_and_nothing_else() -> None:
    time_s = even_stamps(240.0, duration_s=3.5)
    track = JUMP.track(time_s, noise_px=1.0, rng=np.random.default_rng(2))
    (real,) = _flights(track, time_s)
    (slow,) = _flights(track, 8 * time_s)
    assert (slow.first_row, slow.last_row) == (real.first_row, real.last_row)
    assert slow.fall_px_per_s2 * 64 == pytest.approx(real.fall_px_per_s2)
    assert slow.is_jump


def test_a_child_is_found_like_a_grown_up() -> None:
    """Everything smaller by 0.62: 1.1 m tall, a jump of 12 cm, the same gravity in metres."""
    share = 0.62
    gravity = STANDARD_GRAVITY_MPS2 / share
    jump = IdealJump(height_m=0.12 / share, take_off_s=1.5, gravity_mps2=gravity)
    time_s = even_stamps(60.0, duration_s=3.5)
    (flight,) = _flights(jump.track(time_s), time_s)
    assert flight.is_jump
    fall_mps2 = flight.fall_px_per_s2 * M_PER_PX * share
    assert fall_mps2 == pytest.approx(STANDARD_GRAVITY_MPS2, rel=0.05)
    assert flight.end_s - flight.start_s == pytest.approx(jump.landing_s - 1.5, abs=0.06)


def test_three_jumps_in_a_row_are_three() -> None:
    rate_hz = 60.0
    one = JUMP.track(even_stamps(rate_hz, duration_s=3.5))
    rows = 3 * one.px.shape[0]
    time_s = np.arange(rows) / rate_hz
    track = PoseTrack(
        np.arange(rows), time_s, np.concatenate([one.px] * 3),
        np.concatenate([one.visibility] * 3), np.concatenate([one.world_m] * 3), 1280, 720,
    )  # fmt: skip
    found = _flights(track, time_s)
    assert [flight.is_jump for flight in found] == [True] * 3
    period_s = one.px.shape[0] / rate_hz
    assert np.diff([flight.start_s for flight in found]) == pytest.approx([period_s] * 2)


def test_a_drop_from_a_box_falls_and_is_no_jump() -> None:
    time_s = even_stamps(120.0, duration_s=4.0)
    track, landing_s = box_drop(time_s, box_m=0.30, off_s=2.0)
    (flight,) = _flights(track, time_s)
    assert not flight.is_jump
    assert flight.apex_s == pytest.approx(2.0, abs=0.03)
    assert 0 < landing_s - flight.end_s < 0.08
    assert flight.fall_px_per_s2 * M_PER_PX == pytest.approx(STANDARD_GRAVITY_MPS2, rel=0.1)


def test_a_foot_that_lands_and_soon_steps_on_landed_where_it_stood() -> None:
    """What it does in its next step is no level to land on."""
    row = np.arange(120.0)
    hop = np.clip(np.minimum(row - 30, 60 - row), 0, 12) / 100
    step = np.clip((row - 61) / 20, 0, 0.1)
    heights = FootHeights(hop + step, 0 * row, stature_px=450.0, stride=2)
    landed, stepped = find_lifts(heights)
    assert (landed.first_row, landed.last_row) == (33, 57)
    assert stepped.first_row == 62


def test_standing_is_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=1.0)
    track = JUMP.track(time_s, noise_px=1.0, rng=np.random.default_rng(3))
    assert _flights(track, time_s) == []


def test_one_foot_lifted_is_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=3.0)
    track = foot_moved(standing(time_s), "left", up_m=0.3 * bump(time_s, 1.0, 1.6))
    assert {lift.foot for lift in _lifts(track)} == {"left"}
    assert _flights(track, time_s) == []


def test_feet_lifted_in_turn_are_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=6.0)
    track = standing(time_s)
    for number in range(4):
        foot = "left" if number % 2 == 0 else "right"
        start_s = 1.0 + 0.9 * number
        track = foot_moved(track, foot, up_m=0.3 * bump(time_s, start_s, start_s + 0.6))
    assert [lift.foot for lift in _lifts(track)] == ["left", "right", "left", "right"]
    assert _flights(track, time_s) == []


def test_feet_pulled_up_without_falling_hips_are_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=3.0)
    up_m = 0.3 * bump(time_s, 1.0, 1.6)
    track = foot_moved(foot_moved(standing(time_s), "left", up_m=up_m), "right", up_m=up_m)
    assert len(_lifts(track)) == 2
    assert _flights(track, time_s) == []


def test_gliding_sideways_is_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=2.0)
    assert _flights(runner(time_s, speed_mps=2.0), time_s) == []


def test_a_walk_towards_the_camera_is_no_flight_and_hides_no_jump() -> None:
    time_s = even_stamps(60.0, duration_s=9.0)
    jump = IdealJump(height_m=0.30, take_off_s=7.0)
    track = walk_towards_camera(time_s, jump.track(time_s), start_s=1.0, steps=6, step_down_m=0.06)
    (flight,) = _flights(track, time_s)
    assert flight.start_s == pytest.approx(jump.take_off_s, abs=0.05)
    assert flight.end_s == pytest.approx(jump.landing_s, abs=0.05)


def test_the_farther_foot_of_who_walked_away_from_the_camera_stands_as_well() -> None:
    """Side on it is seen a little higher than the other, wherever she stands."""
    time_s = even_stamps(60.0, duration_s=9.0)
    jump = IdealJump(height_m=0.30, take_off_s=7.0)
    farther = foot_moved(jump.track(time_s), "right", up_m=0.05 + 0 * time_s)
    away = walk_towards_camera(time_s, farther, start_s=1.0, steps=6, step_down_m=-0.06)
    heights = measure_foot_heights(away)
    stands = (time_s > 4.6) & (time_s < 6.0)
    for foot in FEET:
        assert np.abs(heights.of(foot)[stands]).max() < 0.01
    assert len(_flights(away, time_s)) == 1


def test_a_clip_that_starts_in_the_air_says_so() -> None:
    time_s = JUMP.take_off_s + 0.2 + even_stamps(60.0, duration_s=2.0)
    lifts = _lifts(JUMP.track(time_s))
    assert {(lift.foot, lift.starts_in_clip, lift.ends_in_clip) for lift in lifts} == {
        ("left", False, True), ("right", False, True),
    }  # fmt: skip
    assert {lift.first_row for lift in lifts} == {0}


def test_a_clip_that_ends_in_the_air_says_so() -> None:
    time_s = even_stamps(60.0, duration_s=JUMP.take_off_s + 0.25)
    lifts = _lifts(JUMP.track(time_s))
    assert {(lift.foot, lift.starts_in_clip, lift.ends_in_clip) for lift in lifts} == {
        ("left", True, False), ("right", True, False),
    }  # fmt: skip


def test_hips_that_are_not_seen_give_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=3.5)
    track = JUMP.track(time_s)
    px = track.px.copy()
    px[80:140, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]] = np.nan
    hidden = replace(track, px=px)
    assert len(_lifts(hidden)) == 2
    assert _flights(hidden, time_s) == []
