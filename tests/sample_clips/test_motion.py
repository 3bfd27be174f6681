"""The motions behind the drawn clips keep physics' rules, before anything is drawn."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.body import Body
from sample_clips.chance import CHOICES, draw_scenario
from sample_clips.checks import check_motion
from sample_clips.curves import GRAVITY_MPS2
from sample_clips.exercises.stages import CannotMove
from sample_clips.exercises.vertical import JumpStyle, jump_vertically
from sample_clips.feet import Contact, Foot, Meeting, lowest_m
from sample_clips.motion import Motion
from sample_clips.skeleton import SIDES, centre_of_mass

KINDS = sorted(CHOICES)


@pytest.fixture(scope="module", params=[(kind, seed) for kind in KINDS for seed in (1, 2)],
                ids=lambda p: f"{p[0]}-{p[1]}")  # fmt: skip
def motion(request: pytest.FixtureRequest) -> Motion:
    kind, seed = request.param
    return draw_scenario(kind, seed).motion


def test_the_centre_of_mass_falls_freely_in_flight(motion: Motion) -> None:
    for leave_s, land_s in motion.flights_s:
        times = np.linspace(leave_s, land_s, 41)
        centre = centre_of_mass(motion.joints(times), motion.body)
        gone = (times - leave_s)[:, None]
        speed = motion.path.velocity_mps(times[:1])
        fall = np.array([0, -GRAVITY_MPS2, 0]) * gone**2 / 2
        expected = centre[0] + speed * gone + fall
        assert np.abs(centre - expected).max() < 1e-9 * np.ptp(expected[:, 1])


def test_the_body_is_on_its_path_on_the_ground_too(motion: Motion) -> None:
    times = np.linspace(0, motion.end_s, 101)
    centre = centre_of_mass(motion.joints(times), motion.body)
    assert np.abs(centre - motion.path.place_m(times)).max() < 1e-9


def test_feet_stay_above_ground_and_both_are_off_in_flight(motion: Motion) -> None:
    times = np.arange(0, motion.end_s, 0.003)
    low = motion.lowest_m(times)
    for side in SIDES:
        assert low[side].min() > -1e-12
    for leave_s, land_s in motion.flights_s:
        inside = np.linspace(leave_s, land_s, 200)[1:-1]
        low = motion.lowest_m(inside)
        assert min(low[side].min() for side in SIDES) > 0


def test_take_off_is_when_the_last_point_leaves(motion: Motion) -> None:
    for leave_s, land_s in motion.flights_s:
        ends = [c.end_s for s in SIDES for c in motion.contacts(s) if c.end_s < land_s]
        starts = [c.start_s for s in SIDES for c in motion.contacts(s) if c.start_s > leave_s]
        assert max(ends) == pytest.approx(leave_s, abs=1e-12)
        assert min(starts) == pytest.approx(land_s, abs=1e-12)
        around = motion.lowest_m(np.array([leave_s, leave_s + 0.004]))
        assert min(around[side][0] for side in SIDES) == pytest.approx(0, abs=1e-9)
        assert min(around[side][1] for side in SIDES) > 1e-5


def test_joints_do_not_leap(motion: Motion) -> None:
    step_s = 0.0005
    times = np.arange(0, motion.end_s, step_s)
    joints = motion.joints(times)
    for name in ("mid_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "left_tip"):
        speed = np.linalg.norm(np.diff(joints[name], axis=0), axis=1) / step_s
        assert speed.max() < 20, name


def test_bones_keep_their_lengths(motion: Motion) -> None:
    joints = motion.joints(np.linspace(0, motion.end_s, 300))
    for side in SIDES:
        thigh = np.linalg.norm(joints[f"{side}_hip"] - joints[f"{side}_knee"], axis=1)
        shank = np.linalg.norm(joints[f"{side}_knee"] - joints[f"{side}_ankle"], axis=1)
        assert np.allclose(thigh, motion.body.thigh_m, atol=1e-9)
        assert np.allclose(shank, motion.body.shank_m, atol=1e-9)


def test_a_body_is_as_tall_as_it_says() -> None:
    body = Body(1.72, "female", 63.0, sole_m=0.0, shoe_margin_m=0.0)
    motion = jump_vertically(body, JumpStyle())
    assert motion.joints(np.zeros(1))["vertex"][0, 1] == pytest.approx(1.72, abs=0.01)


def test_the_toes_leave_last_and_the_heel_first() -> None:
    body = Body(1.72, "male", 70.0)
    contact = Contact(-np.inf, 1.0, np.zeros(3))
    times = np.array([0.9, 0.99])
    points = contact.place(times, body).points_m(body)
    assert points["heel_edge"][0, 1] > 0.02
    assert points["ball"][0, 1] == pytest.approx(0, abs=1e-12)
    assert points["ball"][1, 1] > 0.001
    assert points["tip"][:, 1] == pytest.approx([0, 0], abs=1e-12)


@pytest.mark.parametrize(
    ("rear_rad", "first"), [(0.4, "tip"), (0.0, "heel_edge"), (-0.2, "heel_edge")]
)
def test_a_foot_meets_the_ground_with_the_part_it_should(rear_rad: float, first: str) -> None:
    body = Body(1.72, "male", 70.0)
    contact = Contact(0.0, np.inf, np.zeros(3), meeting=Meeting(rear_rad, 0.0))
    foot: Foot = contact.place(np.zeros(1), body)
    assert lowest_m(foot, body)[0] == pytest.approx(0, abs=1e-12)
    assert foot.points_m(body)[first][0, 1] == pytest.approx(0, abs=1e-12)
    other = "heel_edge" if first == "tip" else "tip"
    if rear_rad:
        assert foot.points_m(body)[other][0, 1] > 0.01


def test_what_no_body_can_do_is_refused() -> None:
    body = Body(1.72, "male", 70.0)
    with pytest.raises(CannotMove, match=r"push|leg|bend"):
        check_motion(jump_vertically(body, JumpStyle(sink_s=0.12, sink_m=0.45)))


def test_a_seed_draws_the_same_motion_again() -> None:
    times = np.linspace(0, 2, 7)
    one, two = (draw_scenario("vertical", 5).motion.joints(times) for _ in range(2))
    assert np.array_equal(one["left_knee"], two["left_knee"])
    other = draw_scenario("vertical", 6).motion.joints(times)
    assert not np.array_equal(one["left_knee"], other["left_knee"])
