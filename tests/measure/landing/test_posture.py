"""Bends of a doll at its landing."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.body import joint_flexion_deg
from measure.landing.posture import Posture, measure_posture
from measure.landing.scene import set_scenes
from measure.types import Landmark, PoseTrack, Refused
from tests.measure.landing.doll import Doll, clock, flight, take_up, two_feet


def landed(
    *, rate_hz: float = 120, heading_deg: float = -90, jitter: float = 0.0, noise_px: float = 0.0,
    hidden: tuple = ("right",), contact_deg: float = 20.0, peak_deg: float = 70.0,
) -> PoseTrack:  # fmt: skip
    time_s = clock(rate_hz, jitter=jitter)
    doll = Doll(
        time_s, knee_deg=take_up(time_s, contact=contact_deg, peak=peak_deg, rest=10),
        lean_deg=take_up(time_s, contact=8, peak=30, rest=5), heading_deg=heading_deg,
        hidden=hidden,
    )  # fmt: skip
    return doll.film(noise_px=noise_px)


def posture_of(track: PoseTrack) -> Posture | Refused:
    scene = set_scenes(
        track, time_s=track.file_time_s, flights=[flight()], contacts=two_feet()
    )[0]
    return measure_posture(scene)


def is_near(estimate, value: float, *, within: float) -> bool:
    """Within a quarter of what the angle changes from one frame to the next."""
    return abs(estimate.value - value) < within


@pytest.mark.parametrize("heading_deg", [-90, 90])
@pytest.mark.parametrize("jitter", [0.0, 0.4])
@pytest.mark.parametrize(("rate_hz", "within"), [(30, 3.4), (60, 1.7), (120, 0.9), (240, 0.5)])
def test_bends_are_read_between_frames(rate_hz, within, jitter, heading_deg):
    posture = posture_of(landed(rate_hz=rate_hz, jitter=jitter, heading_deg=heading_deg))
    leg = posture.legs["left"]
    assert is_near(leg.knee.contact_deg, 20, within=within)
    assert is_near(leg.knee.peak_deg, 70, within=within)
    assert is_near(leg.knee.change_deg, 50, within=2 * within)
    assert is_near(posture.trunk.contact_deg, 8, within=within)
    assert is_near(posture.trunk.peak_deg, 30, within=within)


def test_hip_and_ankle_follow_from_the_doll():
    leg = posture_of(landed()).legs["left"]
    # The thigh leans back by 0.6 of the knee, the trunk ahead; the shank leans by 0.4 over a
    # foot whose heel stands 1 cm higher than its toe on 23 cm.
    assert leg.hip.contact_deg.value == pytest.approx(0.6 * 20 + 8, abs=0.6)
    assert leg.hip.peak_deg.value == pytest.approx(0.6 * 70 + 30, abs=0.6)
    sole_deg = np.degrees(np.arctan2(0.01, 0.23))
    assert leg.ankle.contact_deg.value == pytest.approx(0.4 * 20 - sole_deg, abs=0.6)
    assert leg.ankle.peak_deg.value == pytest.approx(0.4 * 70 - sole_deg, abs=0.6)


def test_a_hidden_leg_is_refused_and_the_near_one_stays():
    posture = posture_of(landed())
    assert set(posture.legs) == {"left"}
    assert [refused.what for refused in posture.refusals] == ["landing posture right leg"]


def test_a_leg_that_changes_its_length_is_not_followed():
    track = landed(hidden=())
    px = track.px.copy()
    during = (track.file_time_s > 1.28) & (track.file_time_s < 1.34)
    px[during, Landmark.RIGHT_KNEE, 0] += 120
    posture = posture_of(dataclasses.replace(track, px=px))
    assert set(posture.legs) == {"left"}


def test_feet_out_of_the_picture_at_the_landing():
    track = landed()
    below = dataclasses.replace(track, px=track.px + np.array([0.0, 130.0]))
    posture = posture_of(below)
    assert not posture.legs
    assert len(posture.refusals) == 2


@pytest.mark.parametrize("heading_deg", [0, 45, 180])
def test_only_the_side_shows_bends(heading_deg):
    refused = posture_of(landed(heading_deg=heading_deg))
    assert isinstance(refused, Refused)
    assert "side" in refused.hint


def test_a_fast_bend_doubts_its_contact_more():
    slow = posture_of(landed(contact_deg=20, peak_deg=30)).legs["left"].knee.contact_deg
    fast = posture_of(landed(contact_deg=20, peak_deg=100)).legs["left"].knee.contact_deg
    assert fast.sigma > slow.sigma + 0.3


@pytest.mark.parametrize(
    ("true_deg", "yaw_deg", "seen_deg"),
    [(30, 10, 29.56), (30, 20, 28.27), (30, 30, 26.13), (60, 10, 59.24), (60, 20, 56.96),
     (60, 30, 53.13), (90, 10, 89.12), (90, 20, 86.44), (90, 30, 81.79)],
)  # fmt: skip
def test_a_turned_camera_sees_less(true_deg, yaw_deg, seen_deg):
    """Published table of the camera-yaw error: leg straddling the vertical, half on each side."""
    half, yaw = np.radians(true_deg / 2), np.radians(yaw_deg)
    knee, hip = np.array([0.0, 0.0]), np.array([-np.sin(half) * np.cos(yaw), np.cos(half)])
    ankle = np.array([-np.sin(half) * np.cos(yaw), -np.cos(half)])
    seen = joint_flexion_deg(proximal=hip, joint=knee, distal=ankle)
    assert seen == pytest.approx(seen_deg, abs=0.005)


def believed_in(track: PoseTrack, **beliefs: float) -> PoseTrack:
    visibility = track.visibility.copy()
    for name, belief in beliefs.items():
        visibility[:, Landmark[name.upper()]] = belief
    return dataclasses.replace(track, visibility=visibility)


def test_a_leg_half_seen_is_doubted_more_and_one_hidden_joint_hides_it():
    clear = posture_of(landed()).legs["left"].knee.peak_deg
    half = posture_of(believed_in(landed(), left_knee=0.75)).legs["left"].knee.peak_deg
    assert half.value == clear.value
    assert half.sigma == pytest.approx(1.6 * clear.sigma)
    hidden = posture_of(believed_in(landed(), left_knee=0.55, left_ankle=1.0))
    assert "left" not in hidden.legs


def test_a_standing_foot_that_the_model_moves_for_a_moment_bends_no_knee():
    clean, time_s = landed(), clock(120)
    px = clean.px.copy()
    moved = (time_s > 1.6) & (time_s < 1.7)
    for mark in (Landmark.LEFT_ANKLE, Landmark.LEFT_HEEL, Landmark.LEFT_TOE):
        px[moved, mark] -= [0.0, 45.0]
    shaken = posture_of(dataclasses.replace(clean, px=px)).legs["left"].knee.peak_deg
    assert shaken.value == pytest.approx(posture_of(clean).legs["left"].knee.peak_deg.value, abs=1)
