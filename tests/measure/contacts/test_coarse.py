"""Rough flights from pose: known jumps at any rate and on any clock."""

import numpy as np
import pytest

from measure.contacts.coarse import find_flights, find_lifts
from measure.contacts.floor import measure_foot_heights
from measure.types import FOOT_LANDMARKS, Floats, PoseTrack
from tests.known_motions import IdealJump, even_stamps

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)


def _flights(track: PoseTrack, time_s: Floats):
    heights = measure_foot_heights(track)
    return find_flights(find_lifts(heights), track, time_s, stride=heights.stride)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 120.0, 240.0])
def test_a_jump_is_found_at_every_rate(rate_hz: float) -> None:
    time_s = even_stamps(rate_hz, duration_s=3.5)
    track = JUMP.track(time_s, noise_px=1.0, rng=np.random.default_rng(1))
    (flight,) = _flights(track, time_s)
    margin_s = max(0.05, 2 / rate_hz)
    assert 0 <= time_s[flight.first_row] - JUMP.take_off_s < margin_s
    assert 0 <= JUMP.landing_s - time_s[flight.last_row] < margin_s
    assert flight.is_jump
    assert flight.fall_px_per_s2 * 0.004 == pytest.approx(9.81, rel=0.06)


def test_slow_motion_changes_the_fall_and_nothing_else() -> None:
    time_s = even_stamps(240.0, duration_s=3.5)
    track = JUMP.track(time_s, noise_px=1.0, rng=np.random.default_rng(2))
    (real,) = _flights(track, time_s)
    (slow,) = _flights(track, 8 * time_s)
    assert (slow.first_row, slow.last_row) == (real.first_row, real.last_row)
    assert slow.fall_px_per_s2 * 64 == pytest.approx(real.fall_px_per_s2)


def test_standing_is_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=1.0)
    track = JUMP.track(time_s, noise_px=1.0, rng=np.random.default_rng(3))
    assert _flights(track, time_s) == []


def test_one_foot_lifted_is_no_flight() -> None:
    time_s = even_stamps(60.0, duration_s=3.0)
    standing = IdealJump(height_m=0.3, take_off_s=90.0).track(time_s)
    px = standing.px.copy()
    lifted = (time_s > 1.0) & (time_s < 1.6)
    leg = FOOT_LANDMARKS["left"]
    for point in (leg.ankle, leg.heel, leg.toe):
        px[lifted, point, 1] -= 80 * np.sin(np.pi * (time_s[lifted] - 1.0) / 0.6)
    track = PoseTrack(
        standing.frame_index, time_s, px, standing.visibility, standing.world_m, 1280, 720
    )
    lifts = find_lifts(measure_foot_heights(track))
    assert {lift.foot for lift in lifts} == {"left"}
    assert _flights(track, time_s) == []
