"""Everything about a clip's jumps in one call."""

from __future__ import annotations

import json

import numpy as np
import pytest

from measure.analyse import ClipRequest, analyse_clip
from measure.movement import assess_movement
from measure.types import Contact
from tests.measure.landing.doll import (
    SCALE,
    Doll,
    clock,
    contact,
    flight,
    instant,
    take_up,
    two_feet,
)

TIME_S = clock(60)


def test_a_vertical_jump_from_the_side():
    doll = Doll(TIME_S, knee_deg=take_up(TIME_S, contact=20, peak=70, rest=10), heading_deg=-90,
                hidden=("right",))  # fmt: skip
    movement = assess_movement(
        doll.film(), time_s=TIME_S, flights=[flight()], contacts=two_feet(), scale=SCALE
    )
    assert (movement.view, movement.exercise) == ("side", "vertical")
    (jump,) = movement.jumps
    assert jump.touchdown is None
    assert jump.turn_deg is None
    assert jump.landing.knee_flexion_peak_deg["left"] == pytest.approx(70, abs=1)
    assert len(set(movement.refusals)) == len(movement.refusals)


def test_the_users_word_wins_and_the_difference_is_said():
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight()], contacts=two_feet(),
        named="single_leg_vertical",
    )  # fmt: skip
    assert movement.exercise == "single_leg_vertical"
    assert any(refused.what == "exercise" for refused in movement.refusals)
    assert len(movement.jumps) == 1


def test_a_foot_drawn_up_unseen_does_not_hide_the_plant():
    """The right foot slides up beside the left one: no lift was seen, so no touchdown either."""
    contacts = [
        contact("left", None, 0.1), contact("left", 0.4, 0.8), contact("right", None, 0.8),
        contact("left", 1.3, None), contact("right", 1.3, None),
    ]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight()], contacts=contacts
    )
    assert movement.exercise == "one_step_vertical"
    assert movement.jumps[0].touchdown.time_s == pytest.approx(0.4)


def test_hops_have_the_touchdown_before_them():
    contacts = [contact(foot, start, end) for foot in ("left", "right")
                for start, end in ((None, 0.8), (1.3, 1.5), (1.9, None))]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight(), flight(1.5, 1.9)],
        contacts=contacts,
    )  # fmt: skip
    assert movement.jumps[0].touchdown is None
    assert movement.jumps[1].touchdown.time_s == pytest.approx(1.3)


def test_the_plant_of_a_step_is_the_first_foot_that_stays():
    contacts = [
        contact("left", None, 0.1), contact("right", None, 0.5), contact("left", 0.35, 0.8),
        contact("right", 0.6, 0.8), contact("left", 1.3, None), contact("right", 1.3, None),
    ]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight()], contacts=contacts
    )
    assert movement.exercise == "one_step_vertical"
    assert movement.jumps[0].touchdown.time_s == pytest.approx(0.35)


def test_an_unmeasured_foot_doubts_a_landing_and_refuses_a_plant():
    hop = [contact("left", None, 0.8), contact("right", None, 0.8), contact("left", 1.3, 1.5),
           contact("right", None, 1.5)]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight(), flight(1.5, 1.9)], contacts=hop
    )
    assert movement.jumps[1].touchdown.time_s == pytest.approx(1.3)
    assert movement.jumps[1].touchdown.sigma_s > 0.015
    step = [contact("left", None, 0.1), contact("right", None, 0.3), contact("left", 0.45, 0.8),
            contact("right", None, 0.8)]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight()], contacts=step
    )
    assert movement.jumps[0].touchdown is None
    assert any(refused.what == "contact_time_s" for refused in movement.refusals)


@pytest.mark.parametrize(("rough_s", "is_known"), [(0.6, True), (0.3, False)])
def test_where_the_poses_see_an_untimed_foot_decides_whether_the_plant_is_known(rough_s, is_known):
    contacts = [
        contact("left", None, 0.1), contact("left", 0.45, 0.8), contact("right", None, None),
        Contact("right", None, instant(0.8), rough_s),
        contact("left", 1.3, None), contact("right", 1.3, None),
    ]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, flights=[flight()], contacts=contacts
    )
    assert (movement.jumps[0].touchdown is not None) == is_known


def test_two_turns_to_the_same_side_do_not_alternate():
    turned = np.clip((TIME_S - 0.8) / 0.5, 0, 1) + np.clip((TIME_S - 2.2) / 0.4, 0, 1)
    contacts = [contact(foot, start, end) for foot in ("left", "right")
                for start, end in ((None, 0.8), (1.3, 2.2), (2.6, None))]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S, heading_deg=90 * turned).film(), time_s=TIME_S,
        flights=[flight(), flight(2.2, 2.6)], contacts=contacts,
    )  # fmt: skip
    assert movement.exercise == "turn_jump"
    assert [jump.turn_deg.value for jump in movement.jumps] == pytest.approx([90, 90], abs=1)
    assert any(refused.what == "alternation" for refused in movement.refusals)
    assert movement.view == "front"


def test_a_hop_that_saves_the_balance_is_no_repetition():
    contacts = [contact("left", start, end) for start, end in
                ((None, 0.8), (1.3, 1.7), (1.8, None))]  # fmt: skip
    movement = assess_movement(
        Doll(TIME_S).film(), time_s=TIME_S, contacts=contacts,
        flights=[flight(off="left", on="left"), flight(1.7, 1.8, off="left", on="left")],
    )  # fmt: skip
    assert movement.exercise == "single_leg_vertical"
    assert [jump.is_saving_hop for jump in movement.jumps] == [False, True]
    assert movement.jumps[0].landing.extra_step
    assert not any(refused.what.startswith("repetition") for refused in movement.refusals)


def test_no_flight_no_exercise():
    movement = assess_movement(Doll(TIME_S).film(), time_s=TIME_S, flights=[], contacts=[])
    assert movement.jumps == ()
    assert movement.exercise is None


@pytest.mark.clips
@pytest.mark.slow
def test_a_drawn_clip_whose_knees_cave_in(shared_clips):
    truth = json.loads((shared_clips / "vertical_cave_front_60.json").read_text())
    analysis = analyse_clip(ClipRequest(path=shared_clips / "vertical_cave_front_60.mp4"))
    movement = assess_movement(
        analysis.track, time_s=analysis.time_s, flights=analysis.flights,
        contacts=analysis.report.contacts,
    )  # fmt: skip
    assert (movement.view, movement.exercise) == ("front", "vertical")
    landing, true = movement.jumps[0].landing, truth["jumps"][0]["landing"]
    for foot in ("left", "right"):
        miss_deg = landing.frontal_knee_angle_deg[foot] - true["frontal_knee_angle_deg"][foot]
        assert abs(miss_deg) < 3 * landing.frontal_knee_angle_sigma_deg[foot]
    assert landing.knee_ankle_separation_ratio < 0.8
    assert not landing.extra_step
