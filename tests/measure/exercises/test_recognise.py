"""Exercises told apart by their flights, on dolls."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from measure.exercises.judge import judge_repetition
from measure.exercises.recognise import Proposal, check_named, recognise_exercise
from measure.exercises.registry import EXERCISES, find_exercise
from measure.exercises.surroundings import describe_flights
from measure.types import Refused
from tests.measure.landing.doll import Doll, clock, contact, flight

TIME_S = clock(60, end_s=6.0)


def both(start_s, end_s):
    return [contact("left", start_s, end_s), contact("right", start_s, end_s)]


def scene(key: str):
    """Flights, contacts and doll of one exercise, done as it should be."""
    doll = Doll(TIME_S)
    if key == "vertical":
        return [flight(2.0, 2.5)], [*both(None, 2.0), *both(2.5, None)], doll
    if key == "single_leg_vertical":
        contacts = [contact("left", None, 2.0), contact("left", 2.4, None)]
        return [flight(2.0, 2.4, off="left", on="left")], contacts, doll
    if key == "one_step_vertical":
        contacts = [contact("left", None, 1.2), contact("right", None, 1.7),
                    contact("left", 1.6, 2.0), *both(2.5, None)]  # fmt: skip
        return [flight(2.0, 2.5, off="left")], contacts, doll
    if key == "approach_jump":
        contacts = [
            contact("left", None, 0.7), contact("right", None, 1.1), contact("left", 1.0, 1.4),
            contact("right", 1.3, 1.7), contact("left", 1.65, 2.0), contact("right", 1.75, 2.0),
            *both(2.55, None),
        ]  # fmt: skip
        return [flight(2.0, 2.55)], contacts, doll
    if key == "turn_jump":
        turned = np.clip((TIME_S - 2.0) / 0.4, 0, 1) - np.clip((TIME_S - 3.8) / 0.4, 0, 1)
        contacts = [*both(None, 2.0), *both(2.4, 3.8), *both(4.2, None)]
        return (
            [flight(2.0, 2.4), flight(3.8, 4.2)], contacts, Doll(TIME_S, heading_deg=90 * turned)
        )
    assert key == "drop_hops"
    # Both feet stand 0.3 m higher until the drop.
    box = {foot: np.where(TIME_S < 1.2, 0.3, 0.0) for foot in ("left", "right")}
    contacts = [contact("left", None, 0.8), contact("right", None, 1.1), *both(1.35, 1.55),
                *both(1.95, 2.15), *both(2.55, None)]  # fmt: skip
    return [flight(1.55, 1.95), flight(2.15, 2.55)], contacts, Doll(TIME_S, raised=box)


def seen_of(key: str, **changed):
    flights, contacts, doll = scene(key)
    return described(changed.get("flights", flights), changed.get("contacts", contacts), doll)


def described(flights, contacts, doll):
    return describe_flights(flights, contacts=contacts, track=doll.film(), time_s=TIME_S)


JUMPED = [key for key, exercise in EXERCISES.items() if not exercise.is_on_lane]


@pytest.mark.parametrize("key", JUMPED)
def test_each_exercise_is_proposed_and_counts(key):
    seen = seen_of(key)
    assert recognise_exercise(seen) == Proposal(key, 1.0)
    assert check_named(key, seen) is None
    for flight_seen in seen if key != "drop_hops" else [None]:
        repetition = seen if flight_seen is None else [flight_seen]
        assert judge_repetition(find_exercise(key), repetition) == ()


@pytest.mark.parametrize("key", JUMPED)
@pytest.mark.parametrize("named", JUMPED)
def test_another_exercise_than_named_is_refused(key, named):
    refused = check_named(named, seen_of(key))
    if named == key:
        assert refused is None
    else:
        assert isinstance(refused, Refused)
        assert find_exercise(key).name in refused.reason


def test_a_drop_that_counts_as_a_flight_is_told_apart():
    flights, contacts, doll = scene("drop_hops")
    seen = described([flight(1.1, 1.35, off="right"), *flights], contacts, doll)
    assert [jump.is_drop for jump in seen] == [True, False, False]
    assert [jump.approach for jump in seen][1:] == ["rebound", "rebound"]
    assert recognise_exercise(seen) == Proposal("drop_hops", 1.0)


def test_hops_whose_flights_were_not_all_timed_are_no_run_up():
    flights, contacts, _ = scene("drop_hops")
    seen = described(flights[1:], contacts, Doll(TIME_S))
    assert [one.approach for one in seen] == ["rebound"]
    untimed = [
        dataclasses.replace(one, start=None, rough_start_s=1.93)
        if one.foot == "left" and one.start and one.start.time_s == 1.95 else one
        for one in contacts
    ]
    assert [one.approach for one in described(flights[1:], untimed, Doll(TIME_S))] == ["rebound"]


def test_a_hop_after_one_that_was_not_timed_is_its_rebound():
    flights, _, doll = scene("drop_hops")
    last = flights[-1]
    alone = describe_flights([last], contacts=(), track=doll.film(), time_s=TIME_S)
    assert alone[0].approach != "rebound"
    missed_s = (last.take_off.time_s - 0.6, last.take_off.time_s - 0.2)
    seen = describe_flights(
        [last], contacts=(), track=doll.film(), time_s=TIME_S, untimed_s=[missed_s]
    )
    assert seen[0].approach == "rebound"


def test_a_step_that_only_poses_saw_counts_where_the_foot_left_again():
    flights, contacts, doll = scene("approach_jump")

    def untimed(start_s, end_s):
        return [
            dataclasses.replace(one, start=None, rough_start_s=start_s)
            if one.start and one.start.time_s == start_s and one.end and one.end.time_s == end_s
            else one
            for one in contacts
        ]

    assert [one.approach for one in described(flights, untimed(1.0, 1.4), doll)] == ["run_up"]
    shaken = [contact("left", None, None), contact("right", None, 2.0),
              dataclasses.replace(contact("left", None, 2.0), rough_start_s=1.6)]  # fmt: skip
    assert [one.approach for one in described(flights, shaken, doll)] == ["standing"]


def test_a_touchdown_that_was_not_measured_still_counts_as_a_step():
    flights, contacts, doll = scene("one_step_vertical")
    unmeasured = [
        dataclasses.replace(c, start=None) if c.start and c.start.time_s == 1.6 else c
        for c in contacts
    ]
    assert described(flights, unmeasured, doll)[0].approach == "one_step"


def test_walking_about_long_before_is_no_approach():
    contacts = [contact("left", None, 0.2), contact("right", None, 2.0), contact("left", 0.5, 2.0),
                *both(2.5, None)]  # fmt: skip
    assert described([flight(2.0, 2.5)], contacts, Doll(TIME_S))[0].approach == "standing"


def test_a_clip_that_begins_with_the_take_off_leaves_it_open():
    seen = described([flight(0.2, 0.7)], both(None, 0.2) + both(0.7, None), Doll(TIME_S))
    assert seen[0].approach == "unknown"
    assert check_named("approach_jump", seen) is None


def test_nothing_to_recognise():
    assert isinstance(recognise_exercise([]), Refused)
    assert check_named("vertical", []) is None
    assert check_named("sprint", seen_of("vertical")) is None


def test_an_unknown_key_is_a_wrong_call():
    with pytest.raises(ValueError, match="one_step_vertical"):
        find_exercise("cartwheel")


@pytest.mark.parametrize(
    ("key", "flights", "words"),
    [
        ("vertical", [flight(2.0, 2.5, off="left")], "it left from one foot"),
        ("vertical", [flight(2.0, 2.5, on="right")], "it landed on one foot"),
        ("single_leg_vertical", [flight(2.0, 2.4, off="left", on="right")], "the other foot"),
        ("single_leg_vertical", [flight(2.0, 2.4, off="left")], "it landed on both feet"),
        ("drop_hops", [], "no hop followed the drop"),
    ],
)
def test_what_makes_a_repetition_invalid(key, flights, words):
    (refused,) = judge_repetition(find_exercise(key), seen_of(key, flights=flights), number=4)
    assert refused.what == "repetition 4"
    assert words in refused.reason


def test_the_step_never_happened():
    flights, contacts, doll = scene("vertical")
    exercise = find_exercise("one_step_vertical")
    (refused,) = judge_repetition(exercise, described(flights, contacts, doll))
    assert "did not happen" in refused.reason


def test_half_a_turn_too_little():
    flights, contacts, _ = scene("turn_jump")
    small = Doll(TIME_S, heading_deg=50 * np.clip((TIME_S - 2.0) / 0.4, 0, 1))
    first = described(flights, contacts, small)[:1]
    (refused,) = judge_repetition(find_exercise("turn_jump"), first)
    assert "turn" in refused.reason


def test_every_definition_is_whole():
    for key, exercise in EXERCISES.items():
        assert exercise.key == key
        assert exercise.name
        assert exercise.happens.endswith(".")
        assert exercise.film_from
        assert exercise.measured
        assert exercise.flights[0] <= exercise.flights[1]
        if exercise.is_same_foot:
            assert "same_foot" in exercise.invalid
