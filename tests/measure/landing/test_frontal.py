"""Knees, stance and trunk of a doll seen from the front."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.landing.frontal import Frontal, measure_frontal
from measure.landing.scene import set_scenes
from measure.types import Refused
from tests.measure.landing.doll import Doll, clock, flight, one_foot, take_up, two_feet


def frontal_of(*, on: str = "both", rate_hz: float = 60, **doll) -> Frontal | Refused:
    time_s = clock(rate_hz)
    knee = doll.pop("knee_deg", take_up(time_s, contact=20, peak=70, rest=10))
    track = Doll(time_s, knee_deg=knee, **doll).film()
    contacts = two_feet() if on == "both" else one_foot(on)
    return measure_frontal(set_scenes(
        track, time_s=time_s, flights=[flight(on=on, off=on)], contacts=contacts
    )[0])  # fmt: skip


def angle_in_picture_deg(inside_m: float, knee_deg: float) -> float:
    """Knee moved inwards between hip and ankle that stand above each other."""
    shank = 0.42 * np.cos(np.radians(0.4 * knee_deg))
    thigh = 0.42 * np.cos(np.radians(0.6 * knee_deg))
    return float(np.degrees(np.arctan(inside_m / shank) + np.arctan(inside_m / thigh)))


@pytest.mark.parametrize("heading_deg", [0, 180])
@pytest.mark.parametrize("inside_m", [-0.05, 0.0, 0.06])
def test_knees_inside_count_positive_on_both_sides(inside_m, heading_deg):
    frontal = frontal_of(knees_inside_m=inside_m, heading_deg=heading_deg)
    for foot in ("left", "right"):
        assert frontal.knee_angle_deg[foot].value == pytest.approx(
            angle_in_picture_deg(inside_m, 70), abs=0.5
        )


def test_separation_is_knees_over_ankles():
    frontal = frontal_of(knees_inside_m=0.06, stance_m=0.30)
    assert frontal.separation_ratio.value == pytest.approx((0.30 - 0.12) / 0.30, abs=0.005)


@pytest.mark.parametrize("heading_deg", [0, 180])
def test_a_lean_to_the_left_is_positive(heading_deg):
    frontal = frontal_of(side_lean_deg=8.0, heading_deg=heading_deg)
    assert frontal.side_lean_deg.value == pytest.approx(8.0, abs=0.1)
    assert frontal_of(side_lean_deg=-8.0).side_lean_deg.value == pytest.approx(-8.0, abs=0.1)


def test_stance_against_the_shoulders():
    # The doll's shoulders stand above its hips and ankles.
    assert frontal_of(stance_m=0.4).stance_ratio.value == pytest.approx(1.0, abs=1e-6)


def test_one_leg_has_no_separation_and_its_own_angle_only():
    frontal = frontal_of(on="left", knees_inside_m=0.04)
    assert set(frontal.knee_angle_deg) == {"left"}
    assert frontal.separation_ratio is None
    assert frontal.stance_ratio is None


@pytest.mark.parametrize("heading_deg", [90, 45])
def test_only_the_front_shows_it(heading_deg):
    refused = frontal_of(heading_deg=heading_deg)
    assert isinstance(refused, Refused)
    assert "front" in refused.hint


def test_projection_is_not_abduction():
    """A bent leg turned inwards shows an angle without any abduction: 11.45 for 60 and 10.

    The leg bends by 60 degrees in its own plane, thigh and shank alike, and that plane is turned
    inwards by 10: its frontal projection is 2 atan(tan(F/2) sin psi), computed from geometry.
    """
    bend, turned = np.radians(60), np.radians(10)
    published_deg = np.degrees(2 * np.arctan(np.tan(bend / 2) * np.sin(turned)))
    assert published_deg == pytest.approx(11.45, abs=0.01)
    time_s = clock(60)
    # Half of the bend to each side of the knee: the doll's legs do 0.4 and 0.6, so build it here.
    track = Doll(time_s, knee_deg=0.0).film()
    px = track.px.copy()
    for side, marks in ((1, (23, 25, 27, 29)), (-1, (24, 26, 28, 30))):
        hip, knee, ankle, heel = marks
        reach_m, rise_m = 0.42 * np.sin(bend / 2), 0.42 * np.cos(bend / 2)
        inwards_px = -side * reach_m * np.sin(turned) * 200
        for mark, height_m, moved in (
            (ankle, 0.08, 0), (heel, 0.03, 0), (knee, 0.08 + rise_m, 1), (hip, 0.08 + 2 * rise_m, 0)
        ):  # fmt: skip
            px[:, mark] = [640 + side * 30 + moved * inwards_px, 600 - 200 * height_m]
    scene = set_scenes(
        dataclasses.replace(track, px=px), time_s=time_s, flights=[flight()], contacts=two_feet()
    )[0]
    for angle in measure_frontal(scene).knee_angle_deg.values():
        assert angle.value == pytest.approx(11.45, abs=0.01)


def test_knees_that_meet_are_doubted_more():
    apart, meeting = frontal_of(stance_m=0.30), frontal_of(stance_m=0.30, knees_inside_m=0.14)
    for foot in ("left", "right"):
        assert apart.knee_angle_deg[foot].sigma < 5 < meeting.knee_angle_deg[foot].sigma
    assert apart.separation_ratio.sigma < 0.1 < 0.3 < meeting.separation_ratio.sigma


def test_feet_turned_out_do_not_bring_the_ankles_together():
    """Heels move inwards and toes outwards; the ankles stay where they stand over the feet."""
    time_s = clock(60)
    track = Doll(time_s, knee_deg=take_up(time_s, contact=20, peak=70, rest=10)).film()
    px = track.px.copy()
    for side, heel, toe in ((1, 29, 31), (-1, 30, 32)):
        px[:, heel, 0] -= side * 6.0
        px[:, toe, 0] += side * 14.0
    scene = set_scenes(
        dataclasses.replace(track, px=px), time_s=time_s, flights=[flight()], contacts=two_feet()
    )[0]
    assert measure_frontal(scene).separation_ratio.value == pytest.approx(1.0, abs=0.01)
