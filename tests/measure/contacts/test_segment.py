"""Contacts and flights put together from timed events, and what is refused by name."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calibration.values import Refused
from measure.contacts import segment
from measure.contacts.coarse import CoarseFlight, Lift
from measure.contacts.judge import FootEvent, time_foot
from measure.contacts.patch import SUN_SHADOW
from measure.contacts.plan import EventKind
from measure.contacts.segment import Segmentation, TimedEvent, segment_clip, time_event
from measure.contacts.trace import trace_event
from measure.types import Contact, Foot, Instant
from tests.known_motions import even_stamps
from tests.measure.contacts.drawn_shoe import (
    GROUND,
    INSTANT_S,
    event_pictures,
    plan_of,
)

TIME_S = even_stamps(60.0, duration_s=5.0)
SIGMA_S = 0.003


def _row(time_s: float) -> int:
    return int(np.argmin(np.abs(TIME_S - time_s)))


def _lift(foot: Foot, from_s: float, to_s: float) -> Lift:
    first, last = _row(from_s), _row(to_s)
    return Lift(foot, first, last, first > 0, last < TIME_S.size - 1)


def _flight(
    from_s: float, to_s: float, *, lifts: tuple[Lift, Lift] | None = None
) -> CoarseFlight:
    lifts = lifts or (_lift("left", from_s, to_s), _lift("right", from_s, to_s))
    middle_s = (from_s + to_s) / 2
    return CoarseFlight(_row(from_s), _row(to_s), from_s, to_s, 2450.0, 50.0, 1.0, middle_s, lifts)


def _timed(
    kind: EventKind, foot: Foot, time_s: float, *, flight: int | None = 0,
    coarse_s: float | None = None,
) -> TimedEvent:  # fmt: skip
    plan = plan_of(kind, foot=foot, flight=flight, coarse_s=coarse_s or time_s)
    return TimedEvent(plan, FootEvent(foot, Instant(time_s, SIGMA_S), 3, 0.001))


def _untimed(
    kind: EventKind, foot: Foot, coarse_s: float, *, flight: int | None = 0
) -> TimedEvent:
    refused = Refused(f"{foot} foot {kind}", "the shoe could not be followed", "More light.")
    return TimedEvent(plan_of(kind, foot=foot, flight=flight, coarse_s=coarse_s), refused)


def _segmented(flights: list[CoarseFlight], events: list[TimedEvent]) -> Segmentation:
    lifts = list(dict.fromkeys(lift for flight in flights for lift in flight.lifts))
    return segment_clip(flights, lifts, events, time_s=TIME_S)


ROUGH = _flight(1.53, 1.97)
OFF = [_timed("take_off", "left", 1.500), _timed("take_off", "right", 1.502)]
ON = [_timed("landing", "left", 2.000), _timed("landing", "right", 2.002)]


def test_two_feet_off_and_on_are_a_flight_and_four_contacts() -> None:
    found = _segmented([ROUGH], [*OFF, *ON])
    (flight,) = found.flights
    assert flight.take_off.time_s == pytest.approx(1.501)
    assert flight.landing.time_s == pytest.approx(2.001)
    assert (flight.take_off_side, flight.landing_side) == ("both", "both")
    assert flight.coarse_s == (TIME_S[ROUGH.first_row], TIME_S[ROUGH.last_row])
    assert found.refusals == ()
    assert set(found.contacts) == {
        Contact("left", None, Instant(1.500, SIGMA_S)),
        Contact("right", None, Instant(1.502, SIGMA_S)),
        Contact("left", Instant(2.000, SIGMA_S), None),
        Contact("right", Instant(2.002, SIGMA_S), None),
    }
    starts = [contact.start for contact in found.contacts]
    assert starts[:2] == [None, None]


@pytest.mark.parametrize(
    ("events", "words"),
    [([*OFF, _untimed("landing", "left", 1.97), _untimed("landing", "right", 1.97)], "landing"),
     ([_untimed("take_off", "left", 1.53), *ON], "take-off")],
)  # fmt: skip
def test_an_end_that_was_not_timed_is_refused_by_name(
    events: list[TimedEvent], words: str
) -> None:
    found = _segmented([ROUGH], events)
    assert found.flights == ()
    (refusal,) = found.refusals
    assert refusal.what == f"jump at {TIME_S[ROUGH.first_row]:.2f} s"
    assert refusal.reason == f"{words}: the shoe could not be followed"
    assert refusal.hint == "More light."


def test_an_end_that_nobody_could_look_at_is_refused_by_name() -> None:
    found = _segmented([ROUGH], OFF)
    assert found.flights == ()
    (refusal,) = found.refusals
    assert "no foot can be seen well at its landing" in refusal.reason
    assert f"{TIME_S[ROUGH.last_row]:.2f} s" in refusal.reason


def test_one_foot_is_enough_and_the_other_still_took_part() -> None:
    found = _segmented([ROUGH], [*OFF, ON[0], _untimed("landing", "right", 1.97)])
    (flight,) = found.flights
    assert flight.landing.time_s == 2.000
    assert flight.landing_side == "both"
    right = [contact for contact in found.contacts if contact.foot == "right"]
    assert [contact.start for contact in right] == [None, None]


def test_a_take_off_that_one_of_two_feet_timed_is_doubted_more() -> None:
    """Against a jump off that foot alone: the other one may have left last."""
    half_seen = _segmented([ROUGH], [OFF[0], _untimed("take_off", "right", 1.5), *ON])
    of_one_foot = _segmented([ROUGH], [OFF[0], *ON])
    (doubted,), (sure,) = half_seen.flights, of_one_foot.flights
    assert doubted.take_off.time_s == sure.take_off.time_s
    assert doubted.take_off.sigma_s > 1.5 * sure.take_off.sigma_s


def test_a_contact_edge_that_was_not_timed_is_named_in_the_refusals() -> None:
    found = _segmented([ROUGH], [*OFF, ON[0], _untimed("landing", "right", 1.97)])
    assert any("right" in refusal.what for refusal in found.refusals)


@pytest.mark.parametrize(("right_px", "hidden_s"), [(300.0, 0.007), (400.0, 0.0)])
def test_of_feet_that_cover_each_other_either_may_be_the_hidden_one(
    right_px: float, hidden_s: float
) -> None:
    beside = [
        replace(one, event=replace(one.event, place_px=(left_px, 500.0, left_px + 40.0, 520.0)))
        for one, left_px in zip(ON, (300.0, right_px), strict=True)
        if isinstance(one.event, FootEvent)
    ]
    found = _segmented([ROUGH], [*OFF, *beside])
    starts = [contact.start for contact in found.contacts if contact.start is not None]
    ends = [contact.end for contact in found.contacts if contact.end is not None]
    assert [one.sigma_s for one in starts] == pytest.approx([math.hypot(SIGMA_S, hidden_s)] * 2)
    assert [one.sigma_s for one in ends] == [SIGMA_S] * 2


def test_a_one_legged_jump_has_its_side() -> None:
    lifts = (_lift("left", 0.8, 3.0), _lift("right", 1.53, 1.97))
    found = _segmented(
        [_flight(1.53, 1.97, lifts=lifts)],
        [_timed("take_off", "right", 1.5), _timed("landing", "right", 2.0)],
    )
    (flight,) = found.flights
    assert (flight.take_off_side, flight.landing_side) == ("right", "right")


def test_the_ground_between_two_flights_is_a_contact_of_each_foot() -> None:
    second = _flight(2.23, 2.67)
    events = [
        *OFF, *ON,
        _timed("take_off", "left", 2.201, flight=1), _timed("take_off", "right", 2.203, flight=1),
        _timed("landing", "left", 2.700, flight=1), _timed("landing", "right", 2.702, flight=1),
    ]  # fmt: skip
    found = _segmented([ROUGH, second], events)
    assert len(found.flights) == 2
    between = [one for one in found.contacts if one.start and one.end]
    assert {(one.foot, one.start.time_s, one.end.time_s) for one in between} == {
        ("left", 2.000, 2.201), ("right", 2.002, 2.203),
    }  # fmt: skip
    assert len(found.contacts) == 6


def test_one_bad_flight_leaves_the_other_standing() -> None:
    second = _flight(3.53, 3.97)
    events = [*OFF, *ON, _timed("take_off", "left", 3.5, flight=1)]
    found = _segmented([ROUGH, second], events)
    assert len(found.flights) == 1
    assert [refusal.what for refusal in found.refusals] == [
        f"jump at {TIME_S[second.first_row]:.2f} s"
    ]
    assert found.untimed_s == ((TIME_S[second.first_row], TIME_S[second.last_row]),)


def test_a_flight_too_short_to_be_one_is_refused() -> None:
    found = _segmented(
        [ROUGH], [_timed("take_off", "left", 1.76), _timed("landing", "left", 1.78)]
    )
    assert found.flights == ()
    assert len(found.refusals) == 1


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize(("sigma_s", "count"), [(0.09, 1), (0.11, 0)])
def test_a_flight_known_no_better_than_to_a_fifth_is_refused(
    kind: EventKind, sigma_s: float, count: int
) -> None:
    vague = [
        replace(one, event=replace(one.event, instant=replace(one.event.instant, sigma_s=sigma_s)))
        if one.plan.kind == kind and isinstance(one.event, FootEvent) else one
        for one in (OFF[0], ON[0])
    ]  # fmt: skip
    found = _segmented([ROUGH], vague)
    assert len(found.flights) == count
    words = f"no foot can be seen well at its {kind.replace('_', '-')}"
    assert [words in refusal.reason for refusal in found.refusals] == [True] * (1 - count)


def test_a_step_parts_the_contacts_of_its_foot_alone() -> None:
    step = _lift("left", 3.0, 3.3)
    events = [
        *OFF, *ON, _timed("take_off", "left", 3.0, flight=None),
        _timed("landing", "left", 3.3, flight=None),
    ]  # fmt: skip
    found = segment_clip([ROUGH], [*ROUGH.lifts, step], events, time_s=TIME_S)
    assert len([one for one in found.contacts if one.foot == "left"]) == 3
    assert len([one for one in found.contacts if one.foot == "right"]) == 2


def test_a_step_that_no_picture_confirms_is_no_step() -> None:
    step = _lift("left", 3.0, 3.3)
    events = [
        *OFF, *ON, _untimed("take_off", "left", 3.0, flight=None),
        _untimed("landing", "left", 3.3, flight=None),
    ]  # fmt: skip
    found = segment_clip([ROUGH], [*ROUGH.lifts, step], events, time_s=TIME_S)
    assert len([one for one in found.contacts if one.foot == "left"]) == 2


def test_a_foot_in_the_air_at_the_start_has_no_contact_before() -> None:
    early = _flight(0.0, 0.4)
    found = _segmented([early], [_timed("landing", "left", 0.43), _timed("landing", "right", 0.43)])
    assert found.flights == ()
    assert [contact.start for contact in found.contacts] == [Instant(0.43, SIGMA_S)] * 2


def test_nothing_seen_is_two_feet_on_the_ground() -> None:
    found = segment_clip([], [], [], time_s=TIME_S)
    assert found.contacts == (Contact("left", None, None), Contact("right", None, None))
    assert (found.flights, found.refusals) == ((), ())


def test_a_close_look_at_bare_ground_times_nothing() -> None:
    event = event_pictures("landing")
    bare = replace(event, pictures=np.repeat(GROUND[None], event.time_s.size, axis=0))
    timed = time_event(plan_of("landing"), bare, 1 / 120)
    assert isinstance(timed.event, Refused)
    assert timed.plan.kind == "landing"


def test_a_close_look_at_a_shoe_times_it() -> None:
    timed = time_event(plan_of("landing", coarse_s=0.0), event_pictures("landing"), 1 / 120)
    assert isinstance(timed.event, FootEvent)
    assert timed.event.instant.time_s == pytest.approx(INSTANT_S, abs=0.0015)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("light", [0.7, 0.4, 0.3])
def test_a_shadow_in_the_sun_is_no_shoe(kind: EventKind, light: float) -> None:
    """It lies under the foot, as dark as a shoe, and stays there whatever the foot does."""
    event = event_pictures(kind)
    pictures = event.pictures.copy()
    pictures[:, 111:126, 71:165] *= light
    timed = time_event(plan_of(kind, coarse_s=0.0), replace(event, pictures=pictures), 1 / 120)
    assert isinstance(timed.event, FootEvent)
    assert timed.event.instant.time_s == pytest.approx(INSTANT_S, abs=0.0015)


def test_what_only_a_second_look_could_follow_is_doubted_more(
    monkeypatch: pytest.MonkeyPatch
) -> None:
    event = event_pictures("landing")
    plan = plan_of("landing", coarse_s=0.0)
    second = trace_event(event, ends=("toe", "heel"), shadow=SUN_SHADOW)
    by_itself = time_foot(plan, second, px_per_m=event.px_per_m, interval_s=1 / 120)
    assert isinstance(by_itself, FootEvent)
    monkeypatch.setattr(
        segment, "trace_event",
        lambda pictures, *, ends, shadow: second if shadow is SUN_SHADOW else [],
    )  # fmt: skip
    timed = time_event(plan, event, 1 / 120)
    assert isinstance(timed.event, FootEvent)
    assert timed.event.instant.time_s == by_itself.instant.time_s
    assert timed.event.instant.sigma_s == pytest.approx(1.5 * by_itself.instant.sigma_s)


def test_a_contact_whose_start_was_not_timed_keeps_its_place() -> None:
    second = _flight(3.03, 3.47)
    events = [
        *OFF, ON[0], _untimed("landing", "right", 1.97),
        _timed("take_off", "left", 3.0, flight=1), _timed("take_off", "right", 3.002, flight=1),
        _timed("landing", "left", 3.5, flight=1), _timed("landing", "right", 3.502, flight=1),
    ]  # fmt: skip
    found = _segmented([ROUGH, second], events)
    places = [(one.foot, one.start is None, one.end is None) for one in found.contacts]
    assert sorted(places[:2]) == [("left", True, False), ("right", True, False)]
    assert sorted(places[2:4]) == [("left", False, False), ("right", True, False)]
    assert sorted(places[4:]) == [("left", False, True), ("right", False, True)]


@pytest.mark.parametrize(("lasts_s", "contacts"), [(0.02, 2), (0.07, 3), (0.30, 3)])
def test_a_foot_that_seems_off_for_a_moment_has_only_shaken(
    lasts_s: float, contacts: int
) -> None:
    """Too short for a step and never looked at; a longer one far from the jump is a step."""
    lift = _lift("left", 4.0, 4.0 + lasts_s)
    found = segment_clip([ROUGH], [*ROUGH.lifts, lift], [*OFF, *ON], time_s=TIME_S)
    assert len([one for one in found.contacts if one.foot == "left"]) == contacts


def test_a_foot_that_took_part_unseen_counts_and_is_named() -> None:
    events = [OFF[0], ON[0]]
    unseen = {(0, "take_off", "right"), (0, "landing", "right"), (1, "landing", "right")}
    found = segment_clip([ROUGH], list(ROUGH.lifts), events, time_s=TIME_S, unseen=unseen)
    (flight,) = found.flights
    assert (flight.take_off_side, flight.landing_side) == ("both", "both")
    assert sorted(refusal.what[:14] for refusal in found.refusals) == [
        "right foot lan", "right foot tak",
    ]  # fmt: skip
