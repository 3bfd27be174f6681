"""Which exercise a clip shows, as far as its flights tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from measure.exercises.definition import Exercise
from measure.exercises.registry import EXERCISES, find_exercise
from measure.exercises.surroundings import FlightSeen
from measure.types import Refused

__all__ = ["Proposal", "check_named", "recognise_exercise"]

_TURNED_DEG = 45.0
"""Half a quarter turn: more is a turn that was meant."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """The exercise that fits best."""

    key: str
    fitting_share: float
    """Share of the flights that look as this exercise asks."""


def recognise_exercise(seen: Sequence[FlightSeen]) -> Proposal | Refused:
    """Propose the exercise of a clip; the user's word wins over it.

    Parameters
    ----------
    seen : sequence of FlightSeen

    Returns
    -------
    Proposal or Refused
        Refused where there is no flight.

    Notes
    -----
    Every flight is compared with every definition; the definition most flights look like is
    proposed, and among equals the one that asks for more.
    """
    jumps = _without_drops(seen)
    if not jumps:
        return Refused(
            "exercise", "No flight with both feet off the ground was found.",
            "Name the exercise, and film the whole repetition with the feet in the picture.",
        )  # fmt: skip
    shares = {
        key: sum(fits_flight(exercise, flight) for flight in jumps) / len(jumps)
        for key, exercise in EXERCISES.items()
        if not exercise.is_on_lane
    }
    best = max(shares, key=lambda key: (shares[key], _strictness(EXERCISES[key])))
    if shares[best] == 0:
        return Refused(
            "exercise", "The flights in this clip look like none of the exercises.",
            "Name the exercise.",
        )  # fmt: skip
    return Proposal(best, shares[best])


def check_named(key: str, seen: Sequence[FlightSeen]) -> Refused | None:
    """Tell whether a clip shows another exercise than the one that was named.

    Parameters
    ----------
    key : str
        The user's word.
    seen : sequence of FlightSeen

    Returns
    -------
    Refused or None
        None where at least one flight looks as named, or nothing speaks against it.

    Raises
    ------
    ValueError
        For a key that there is not.
    """
    exercise = find_exercise(key)
    jumps = _without_drops(seen)
    if exercise.is_on_lane or not jumps:
        return None
    if any(fits_flight(exercise, flight) for flight in jumps):
        return None
    proposal = recognise_exercise(seen)
    if isinstance(proposal, Refused):
        return None
    return Refused(
        "exercise",
        f"Named as {exercise.name}, but no flight looks like one; it looks like "
        f"{find_exercise(proposal.key).name}.",
        f"Name it {proposal.key}, or film it so: {exercise.happens}",
    )


def fits_flight(exercise: Exercise, seen: FlightSeen) -> bool:
    """Tell whether one flight looks as an exercise asks.

    Parameters
    ----------
    exercise : Exercise
    seen : FlightSeen

    Returns
    -------
    bool
        What was not seen counts as fitting.
    """
    flight = seen.flight
    turned = seen.turn_deg is not None and abs(seen.turn_deg.value) > _TURNED_DEG
    return (
        (seen.approach == "unknown" or seen.approach in exercise.approaches)
        and flight.take_off_side in exercise.take_off_sides
        and flight.landing_side in exercise.landing_sides
        and not (exercise.is_same_foot and flight.take_off_side != flight.landing_side)
        and (seen.turn_deg is None or turned == (exercise.turn_deg is not None))
    )


def _without_drops(seen: Sequence[FlightSeen]) -> list[FlightSeen]:
    return [flight for flight in seen if not flight.is_drop]


def _strictness(exercise: Exercise) -> int:
    """How much a definition asks: fewer ways to fit means more."""
    return -len(exercise.approaches) - len(exercise.take_off_sides) - len(exercise.landing_sides)
