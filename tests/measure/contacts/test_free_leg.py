"""A foot held low: its bent, short leg says that it does not stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.coarse import CoarseFlight, Lift
from measure.contacts.free_leg import FreeLegs, lift_free_legs
from measure.types import FOOT_LANDMARKS, Floats, PoseTrack
from tests.known_motions import IdealJump, even_stamps
from tests.measure.contacts.drawn_shoe import plan_of

TIME_S = even_stamps(60.0, duration_s=4.0)
OFF, ON = 90, 114
"""Rows of take-off and landing, 1.5 and 1.9 s."""


def _track(*, bend_deg: dict[str, Floats | float]) -> PoseTrack:
    """Legs bent as told, in the model's own metres; the picture does not matter here."""
    track = IdealJump().track(TIME_S)
    world_m = np.zeros((TIME_S.size, 33, 3))
    for foot, deg in bend_deg.items():
        marks, half = FOOT_LANDMARKS[foot], np.radians(np.broadcast_to(deg, TIME_S.shape)) / 2
        world_m[:, marks.knee, 1] = 0.42 * np.cos(half)
        world_m[:, marks.knee, 2] = -0.42 * np.sin(half)
        world_m[:, marks.ankle, 1] = 0.84 * np.cos(half)
    return replace(track, world_m=world_m)


def _look(track: PoseTrack, *, between: tuple[Lift, ...] = ()) -> FreeLegs:
    lifts = tuple(Lift(foot, OFF, ON, True, True) for foot in ("left", "right"))
    flight = CoarseFlight(OFF, ON, 1.5, 1.9, 2450.0, 50.0, 1.0, 1.7, lifts)
    return lift_free_legs([flight], [*lifts, *between], track=track, time_s=TIME_S)


@pytest.mark.parametrize("right_deg", [45.0, 70.0])
def test_a_bent_leg_is_up_before_and_after_and_its_foot_takes_no_part(right_deg: float) -> None:
    shake = Lift("right", 200, 205, True, True)
    found = _look(_track(bend_deg={"left": 8.0, "right": right_deg}), between=(shake,))
    assert found.idle == {(0, "take_off", "right"), (0, "landing", "right")}
    assert found.lifts == (
        Lift("right", 0, TIME_S.size - 1, False, False), Lift("left", OFF, ON, True, True),
    )  # fmt: skip
    assert found.flights[0].lifts[1] == found.lifts[0]
    plans = [plan_of(kind, foot=foot) for kind in ("take_off", "landing")
             for foot in ("left", "right")]  # fmt: skip
    assert [plan.foot for plan in found.without_idle(plans)] == ["left", "left"]
    step = plan_of("landing", foot="right", flight=None)
    assert found.without_idle([step]) == [step]


@pytest.mark.parametrize("right_deg", [8.0, 20.0, 30.0])
def test_two_legs_that_bend_nearly_alike_both_stand(right_deg: float) -> None:
    found = _look(_track(bend_deg={"left": 8.0, "right": right_deg}))
    assert found.idle == frozenset()
    assert all((lift.first_row, lift.last_row) == (OFF, ON) for lift in found.lifts)


def test_off_two_feet_onto_one() -> None:
    bend = np.where(TIME_S > 1.7, 70.0, 8.0)
    found = _look(_track(bend_deg={"left": bend, "right": 8.0}))
    assert found.idle == {(0, "landing", "left")}
    assert found.flights[0].lifts[0] == Lift("left", OFF, TIME_S.size - 1, True, False)


def test_a_free_foot_that_is_put_down_ends_its_lift() -> None:
    bend = np.where(TIME_S < 3.0, 70.0, 8.0)
    found = _look(_track(bend_deg={"left": 8.0, "right": bend}))
    lift = found.flights[0].lifts[1]
    assert TIME_S[lift.last_row] == pytest.approx(3.0, abs=0.1)
    assert lift.ends_in_clip


def test_walking_is_no_standing_on_one_leg() -> None:
    to_and_fro = 40 + 35 * np.sign(np.sin(2 * np.pi * TIME_S / 0.5))
    found = _look(_track(bend_deg={"left": to_and_fro, "right": 80 - to_and_fro}))
    assert found.idle == frozenset()
