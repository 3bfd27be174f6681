"""What the feet do around each flight: stand, step, run up, or come from another landing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from measure.contacts.floor import stature_in_px
from measure.exercises.definition import Approach
from measure.ground_contact import REBOUND_S, contacts_of_foot, follows_untimed
from measure.turn import measure_turn
from measure.types import FOOT_LANDMARKS, Contact, Estimate, Flight, Floats, PoseTrack, Refused

__all__ = ["FlightSeen", "SurroundingSettings", "describe_flights"]


@dataclass(frozen=True, slots=True)
class SurroundingSettings:
    """What belongs together."""

    rebound_s: float = REBOUND_S
    step_s: float = 0.9
    """Longest time from one touchdown of an approach to the next, or to the take-off."""
    most_step_touchdowns: int = 2
    """A step, and the other foot put beside it; more is a run-up."""
    together_s: float = 0.06
    """Feet that come down within this landed, out of the air, rather than stepped."""
    box_statures: float = 0.08
    """Who lands lower by this than she left came off a box."""


@dataclass(frozen=True, slots=True)
class FlightSeen:
    """One flight as the exercises look at it."""

    flight: Flight
    approach: Approach
    is_drop: bool
    """It starts on a box."""
    turn_deg: Estimate | None
    previous_landing_s: float | None


def describe_flights(
    flights: Sequence[Flight], *, contacts: Sequence[Contact], track: PoseTrack, time_s: Floats,
    untimed_s: Sequence[tuple[float, float]] = (), settings: SurroundingSettings | None = None,
) -> tuple[FlightSeen, ...]:  # fmt: skip
    """Describe what comes before each flight, and how the body turns in it.

    Parameters
    ----------
    flights : sequence of Flight
        In order of time, a drop from a box among them or not.
    contacts : sequence of Contact
    track : PoseTrack
        Cleaned.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    untimed_s : sequence of (float, float)
        Start and end of jumps that were seen and not timed.
    settings : SurroundingSettings, optional

    Returns
    -------
    tuple of FlightSeen
        One for each flight.
    """
    settings = settings or SurroundingSettings()
    seen = []
    for number, flight in enumerate(flights):
        before_s = flights[number - 1].landing.time_s if number else None
        after_s = flights[number + 1].take_off.time_s if number + 1 < len(flights) else np.inf
        turn = measure_turn(
            track, time_s=time_s, flight=flight,
            free_s=(-np.inf if before_s is None else before_s, after_s),
        )  # fmt: skip
        seen.append(FlightSeen(
            flight,
            "rebound" if follows_untimed(flight, untimed_s, within_s=settings.rebound_s)
            else _approach(flight, before_s, contacts, track, time_s, settings),
            _is_drop(flight, track, time_s, settings),
            None if isinstance(turn, Refused) else turn, before_s,
        ))  # fmt: skip
    return tuple(seen)


def _approach(
    flight: Flight, before_s: float | None, contacts: Sequence[Contact],
    track: PoseTrack, time_s: Floats, settings: SurroundingSettings,
) -> Approach:  # fmt: skip
    take_off_s = flight.take_off.time_s
    if before_s is not None and take_off_s - before_s < settings.rebound_s:
        return "rebound"
    touchdowns_s = _touchdowns_s(contacts, before_s=before_s, until_s=take_off_s)
    steps_s = _chain(touchdowns_s, take_off_s, settings)
    if not steps_s:
        return "standing" if take_off_s - time_s[0] > 0.3 else "unknown"
    if _came_down_from_box(steps_s[-1], take_off_s, track, time_s, settings):
        return "rebound"
    rough_s = _touchdowns_s(contacts, before_s=before_s, until_s=take_off_s, is_rough=True)
    landings_s = _chain(rough_s, take_off_s, settings)
    is_soon = bool(landings_s) and take_off_s - landings_s[-1] < settings.rebound_s
    if is_soon and _landed_only(landings_s, settings):
        return "rebound"
    return "one_step" if len(steps_s) <= settings.most_step_touchdowns else "run_up"


def _touchdowns_s(
    contacts: Sequence[Contact], *, before_s: float | None, until_s: float,
    is_rough: bool = False,
) -> list[float]:  # fmt: skip
    """Times at which a foot comes down, those of the landing before left out.

    Rough ones, which only the poses saw, count where the foot was seen to leave again before the
    take-off, as in a run; else they complete a pair at most.
    """
    first_s = -np.inf if before_s is None else before_s + 0.25
    times_s = []
    for foot in FOOT_LANDMARKS:
        own = contacts_of_foot(contacts, foot)
        for number, contact in enumerate(own):
            before = own[number - 1].end if number else None
            touched_s = None if contact.start is None else contact.start.time_s
            steps_on = contact.end is not None and contact.end.time_s < until_s - 0.1
            if touched_s is None and (is_rough or steps_on):
                touched_s = contact.rough_start_s
            if touched_s is None and before is not None:
                # Not measured, and yet it happened: not before this foot had left.
                touched_s = before.time_s
            if touched_s is not None and first_s < touched_s < until_s - 0.02:
                times_s.append(touched_s)
    return sorted(times_s)


def _landed_only(touchdowns_s: list[float], settings: SurroundingSettings) -> bool:
    """Tell a row of landings on both feet, whose flights were not all timed, from steps."""
    firsts, seconds = touchdowns_s[::2], touchdowns_s[1::2]
    return len(firsts) == len(seconds) and all(
        second - first < settings.together_s
        for first, second in zip(firsts, seconds, strict=True)
    )


def _chain(
    touchdowns_s: list[float], take_off_s: float, settings: SurroundingSettings
) -> list[float]:
    """Touchdowns that lead into the take-off without a pause."""
    chain: list[float] = []
    next_s = take_off_s
    for touchdown_s in reversed(touchdowns_s):
        if next_s - touchdown_s > settings.step_s:
            break
        chain.insert(0, touchdown_s)
        next_s = touchdown_s
    return chain


def _came_down_from_box(
    touchdown_s: float, take_off_s: float, track: PoseTrack, time_s: Floats,
    settings: SurroundingSettings,
) -> bool:  # fmt: skip
    if take_off_s - touchdown_s > settings.rebound_s:
        return False
    drop = _drop_statures(track, time_s, before_s=touchdown_s - 0.4, after_s=touchdown_s)
    return drop > settings.box_statures


def _is_drop(
    flight: Flight, track: PoseTrack, time_s: Floats, settings: SurroundingSettings
) -> bool:
    drop = _drop_statures(
        track, time_s, before_s=flight.take_off.time_s, after_s=flight.landing.time_s
    )
    return drop > settings.box_statures


def _drop_statures(track: PoseTrack, time_s: Floats, *, before_s: float, after_s: float) -> float:
    """By how much the lower foot stands lower after than before, in statures."""
    toes = [marks.toe for marks in FOOT_LANDMARKS.values()]
    lowest_px = track.px[:, toes, 1].max(axis=1)
    before = lowest_px[(time_s > before_s - 0.2) & (time_s < before_s)]
    after = lowest_px[(time_s > after_s) & (time_s < after_s + 0.2)]
    if not (np.isfinite(before).any() and np.isfinite(after).any()):
        return 0.0
    return float((np.nanmedian(after) - np.nanmedian(before)) / stature_in_px(track))
