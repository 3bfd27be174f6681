"""Which foot, and which part of it, touches first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.landing.scene import set_scenes
from measure.landing.touch import FootLag, measure_contact_part, measure_foot_lag
from measure.types import Landmark, PoseTrack, Refused
from tests.measure.landing.doll import LANDING_S, Doll, clock, flight, one_foot, two_feet


def scene_of(track: PoseTrack, contacts, **how):
    return set_scenes(
        track, time_s=track.file_time_s, flights=[flight(**how)], contacts=contacts
    )[0]


@pytest.mark.parametrize(("lag_s", "first"), [(0.04, "left"), (0.001, None)])
def test_lag_and_the_first_foot(lag_s, first):
    lag = measure_foot_lag(scene_of(Doll(clock(60)).film(), two_feet(lag_s)))
    assert isinstance(lag, FootLag)
    assert lag.lag_s.value == pytest.approx(lag_s)
    assert lag.lag_s.sigma == pytest.approx(0.002 * 2**0.5)
    assert lag.first_foot == first


def test_a_missing_touchdown_is_refused():
    refused = measure_foot_lag(scene_of(Doll(clock(60)).film(), one_foot()))
    assert isinstance(refused, Refused)


def test_feet_that_cover_each_other_tell_no_lag():
    """Seen from the side both are timed by the nearer shoe."""
    covered = [replace(flight(), one_foot_hides_other=True)]
    track = Doll(clock(60)).film()
    scene = set_scenes(track, time_s=track.file_time_s, flights=covered, contacts=two_feet(0.04))
    refused = measure_foot_lag(scene[0])
    assert isinstance(refused, Refused)
    assert "covers the other" in refused.reason


def rolling(time_s, tilt_deg: float) -> PoseTrack:
    """From the side, soles tilted until 40 ms after touchdown, heel up where positive."""
    track = Doll(time_s, heading_deg=-90).film()
    tilted = np.radians(tilt_deg) * (time_s < LANDING_S + 0.04)
    for heel in (Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL):
        track.px[:, heel, 1] -= 46 * np.tan(tilted)
    return track


@pytest.mark.parametrize(("tilt_deg", "part"), [(20, "toe"), (-20, "heel"), (0, "flat")])
def test_the_part_that_touches_first(tilt_deg, part):
    track = rolling(clock(120), tilt_deg)
    assert measure_contact_part(scene_of(track, two_feet())) == part


def test_a_small_tilt_is_left_open():
    assert isinstance(
        measure_contact_part(scene_of(rolling(clock(120), 7), two_feet())), Refused
    )


def test_too_few_pictures_and_the_front_are_refused():
    assert isinstance(measure_contact_part(scene_of(rolling(clock(60), 20), two_feet())), Refused)
    front = Doll(clock(120)).film()
    assert isinstance(measure_contact_part(scene_of(front, two_feet())), Refused)
