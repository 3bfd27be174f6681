"""The leg that stands on one foot, told by which foot is lower."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.landing.scene import set_scenes
from measure.landing.trust import leg_is_followed, true_to_length
from measure.types import FOOT_LANDMARKS, Landmark, PoseTrack
from tests.measure.landing.doll import LANDING_S, Doll, clock, contact, flight, one_foot

LEGS = [[leg.hip, leg.knee, leg.ankle, leg.heel, leg.toe] for leg in FOOT_LANDMARKS.values()]


def on_the_left_leg(time_s) -> PoseTrack:
    lifted = {"right": np.full(time_s.size, 0.35)}
    return Doll(time_s, heading_deg=-90, raised=lifted).film()


def exchanged(track: PoseTrack, rows) -> PoseTrack:
    order = np.arange(len(Landmark))
    order[LEGS[0]], order[LEGS[1]] = LEGS[1], LEGS[0]
    px = track.px.copy()
    px[rows] = px[rows][:, order]
    return dataclasses.replace(track, px=px)


def scene_of(track: PoseTrack, contacts=None):
    return set_scenes(
        track, time_s=track.file_time_s, flights=[flight(off="left", on="left")],
        contacts=contacts or one_foot("left"),
    )[0]  # fmt: skip


@pytest.mark.parametrize("rate_hz", [30, 120])
def test_swapped_rows_are_put_back(rate_hz):
    time_s = clock(rate_hz)
    truth = on_the_left_leg(time_s)
    during = (time_s > LANDING_S + 0.2) & (time_s < LANDING_S + 0.6)
    named = scene_of(exchanged(truth, during)).track
    assert np.array_equal(named.px, truth.px)


def test_right_names_and_two_feet_are_left_alone():
    time_s = clock(60)
    truth = on_the_left_leg(time_s)
    assert np.array_equal(scene_of(truth).track.px, truth.px)
    swapped = exchanged(truth, time_s > LANDING_S + 0.2)
    both = set_scenes(swapped, time_s=time_s, flights=[flight()], contacts=[])[0]
    assert both.track is swapped


def test_nothing_is_named_once_the_other_foot_is_down():
    time_s = clock(60)
    down_s = LANDING_S + 0.5
    late = exchanged(on_the_left_leg(time_s), time_s > down_s + 0.02)
    contacts = [*one_foot("left"), contact("right", down_s, None)]
    assert np.array_equal(scene_of(late, contacts).track.px, late.px)


def test_rows_in_which_no_foot_stands_are_left_out():
    time_s = clock(60)
    track = on_the_left_leg(time_s)
    middle = int(np.searchsorted(time_s, LANDING_S + 0.4))
    for pair in zip(LEGS[0][1:], LEGS[1][1:], strict=True):
        track.px[middle, list(pair)] = track.px[middle, list(pair)].mean(axis=0)
    named = scene_of(track).track
    assert np.isnan(named.px[middle, Landmark.LEFT_ANKLE]).all()
    assert np.isfinite(named.px[middle, Landmark.LEFT_HIP]).all()
    assert np.isfinite(named.px[middle + 1, Landmark.LEFT_ANKLE]).all()


def test_a_leg_true_to_its_length_is_followed_and_a_stranger_is_not():
    time_s = clock(60)
    track = on_the_left_leg(time_s)
    marks = FOOT_LANDMARKS["left"]
    assert leg_is_followed(scene_of(track), marks)
    assert true_to_length(scene_of(track), marks).all()
    about = (time_s > LANDING_S - 0.05) & (time_s < LANDING_S + 0.25)
    track.px[about, Landmark.LEFT_KNEE, 0] += 90
    assert not leg_is_followed(scene_of(track), marks)
