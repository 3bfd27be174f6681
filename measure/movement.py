"""What the flights of a clip were, and how each was landed: exercise, view, turns, landings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measure.exercises.definition import Exercise
from measure.exercises.judge import judge_repetition
from measure.exercises.recognise import check_named, recognise_exercise
from measure.exercises.registry import find_exercise
from measure.exercises.surroundings import FlightSeen, describe_flights
from measure.ground_contact import contacts_of_foot
from measure.landing.report import report_landing
from measure.landing.scene import set_scenes
from measure.report import LandingReport
from measure.sets import group_repetitions
from measure.turn import check_alternation
from measure.types import (
    FOOT_LANDMARKS,
    Contact,
    Estimate,
    Flight,
    Floats,
    Instant,
    PoseTrack,
    Refused,
    Scale,
    View,
)
from measure.view import SeenView, assess_view

__all__ = ["JumpMovement", "Movement", "assess_movement"]

_LONGEST_PLANT_S = 0.9
"""Who stands longer than this before the take-off stands; that is no contact time."""
_UNSEEN_FOOT_SIGMA_S = 0.015
"""Out of the air both feet land nearly together: an unmeasured one by so much earlier or later."""
_SAME_TAKE_OFF_S = 0.1
"""Feet leave one after the other within this."""
_NO_TOUCHDOWN = Refused(
    "contact_time_s", "The touchdown before a take-off was not measured for every foot.",
    "Film square from the side at 120 pictures per second or more, feet clear of other things.",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class JumpMovement:
    """What belongs to one flight."""

    seen: FlightSeen
    touchdown: Instant | None
    """First foot down of the ground contact before it; None after standing, or not measured."""
    turn_deg: Estimate | None
    """Only where the exercise turns."""
    is_saving_hop: bool
    """A small hop that saved a balance; no repetition."""
    landing: LandingReport


@dataclass(frozen=True, slots=True)
class Movement:
    """A clip's jumps as an exercise."""

    view: View | None
    exercise: str | None
    """The user's word, else the proposal."""
    jumps: tuple[JumpMovement, ...]
    refusals: tuple[Refused, ...]
    """Each once."""


def assess_movement(
    track: PoseTrack, *, time_s: Floats, flights: Sequence[Flight], contacts: Sequence[Contact],
    scale: Scale | None = None, named: str | None = None,
    untimed_s: Sequence[tuple[float, float]] = (),
) -> Movement:  # fmt: skip
    """Recognise the exercise, and measure the turn and the landing of every flight.

    Parameters
    ----------
    track : PoseTrack
        Legs restored, cleaned.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    flights : sequence of Flight
        In order of time; drops from a box may be left out.
    contacts : sequence of Contact
    scale : Scale, optional
    named : str, optional
        Key of the exercise as the user gave it; it wins over the proposal.
    untimed_s : sequence of (float, float)
        Start and end of jumps that were seen and not timed: they end the landing before them.

    Returns
    -------
    Movement

    Raises
    ------
    ValueError
        For an exercise that there is not.
    """
    seen = describe_flights(
        flights, contacts=contacts, track=track, time_s=time_s, untimed_s=untimed_s
    )
    view = _clip_view(track, time_s, flights)
    refusals: list[Refused] = [] if isinstance(view, SeenView) else [view]
    scenes = set_scenes(
        track, time_s=time_s, flights=flights, contacts=contacts, scale=scale,
        untimed_s=untimed_s,
    )  # fmt: skip
    saving = [hop for scene in scenes for hop in scene.saving_hops]
    repetitions = [flight for flight in seen if flight.flight not in saving]
    key, about_exercise = _decide_exercise(named, repetitions)
    refusals += about_exercise
    exercise = None if key is None else find_exercise(key)
    jumps = []
    for flight, landing in zip(seen, scenes, strict=True):
        report, refused = report_landing(landing)
        refusals += refused
        touchdown = _touchdown_before(flight, contacts)
        if touchdown is None and flight.approach not in ("standing", "unknown"):
            refusals.append(_NO_TOUCHDOWN)
        turns = exercise is not None and exercise.turn_deg is not None
        jumps.append(JumpMovement(
            flight, touchdown, flight.turn_deg if turns else None, flight.flight in saving, report
        ))  # fmt: skip
    if exercise is not None and not about_exercise:
        refusals += _judge(exercise, repetitions, untimed_s)
    seen_view = view.view if isinstance(view, SeenView) else None
    return Movement(seen_view, key, tuple(jumps), tuple(dict.fromkeys(refusals)))


def _clip_view(
    track: PoseTrack, time_s: Floats, flights: Sequence[Flight]
) -> SeenView | Refused:
    """Judge before the first take-off, for a turning jump is seen from elsewhere afterwards."""
    if flights:
        before = assess_view(track, time_s=time_s, end_s=flights[0].take_off.time_s)
        if isinstance(before, SeenView):
            return before
    return assess_view(track, time_s=time_s)


def _decide_exercise(
    named: str | None, seen: Sequence[FlightSeen]
) -> tuple[str | None, list[Refused]]:
    if named is not None:
        refused = check_named(named, seen)
        return named, [] if refused is None else [refused]
    if not seen:
        return None, []
    proposal = recognise_exercise(seen)
    return (None, [proposal]) if isinstance(proposal, Refused) else (proposal.key, [])


def _touchdown_before(seen: FlightSeen, contacts: Sequence[Contact]) -> Instant | None:
    """First foot down among those that leave the ground with this take-off."""
    if seen.approach in ("standing", "unknown"):
        return None
    take_off_s = seen.flight.take_off.time_s
    starts: list[Instant] = []
    unknown_since_s: list[float] = []
    for foot in FOOT_LANDMARKS:
        if seen.flight.take_off_side not in (foot, "both"):
            continue
        until = [
            contact
            for contact in contacts_of_foot(contacts, foot)
            if (contact.start or contact.end) is not None
            and _first_known_s(contact) < take_off_s + _SAME_TAKE_OFF_S
        ]
        if not until:
            continue
        if until[-1].start is not None:
            starts.append(until[-1].start)
        elif not (seen.approach == "one_step" and _was_never_off(until)):
            unknown_since_s.append(_not_before_s(until))
    if not starts:
        return None
    first = min(starts, key=lambda start: start.time_s)
    may_be_earlier = any(since_s < first.time_s for since_s in unknown_since_s)
    is_plant = 0 < take_off_s - first.time_s < _LONGEST_PLANT_S
    if not is_plant or (may_be_earlier and seen.approach != "rebound"):
        return None
    if may_be_earlier:
        return Instant(first.time_s, math.hypot(first.sigma_s, _UNSEEN_FOOT_SIGMA_S))
    return first


def _was_never_off(contacts: Sequence[Contact]) -> bool:
    """Tell a foot that was not seen off the ground: drawn up beside the step's."""
    return len(contacts) == 1 and contacts[0].rough_start_s is None


def _not_before_s(contacts: Sequence[Contact]) -> float:
    """Give the earliest that one foot's last contact can have begun, where that was not timed."""
    last = contacts[-1]
    if last.rough_start_s is not None:
        return last.rough_start_s
    before = contacts[-2].end if len(contacts) > 1 else None
    return -math.inf if before is None else before.time_s


def _first_known_s(contact: Contact) -> float:
    known = contact.start or contact.end
    return math.inf if known is None else known.time_s


def _judge(
    exercise: Exercise, seen: Sequence[FlightSeen], untimed_s: Sequence[tuple[float, float]]
) -> list[Refused]:
    of_flight = {id(flight.flight): flight for flight in seen}
    refusals: list[Refused] = []
    groups = group_repetitions([flight.flight for flight in seen], untimed_s=untimed_s)
    for number, group in enumerate(groups, start=1):
        repetition = [of_flight[id(flight)] for flight in group]
        refusals += judge_repetition(exercise, repetition, number=number)
    if exercise.alternates:
        turns = [flight.turn_deg.value for flight in seen if flight.turn_deg is not None]
        if refused := check_alternation(turns):
            refusals.append(refused)
    return refusals
