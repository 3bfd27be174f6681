"""Whether one repetition counts, and why not."""

from __future__ import annotations

from collections.abc import Sequence

from measure.exercises.definition import Exercise, Expectation
from measure.exercises.surroundings import FlightSeen
from measure.types import Refused

__all__ = ["judge_repetition"]

_TURN_WITHIN_DEG = 30.0
"""A quarter turn that misses by a third of itself is another turn."""


def judge_repetition(
    exercise: Exercise, seen: Sequence[FlightSeen], *, number: int = 1
) -> tuple[Refused, ...]:
    """Compare one repetition with its exercise.

    Parameters
    ----------
    exercise : Exercise
    seen : sequence of FlightSeen
        The repetition's flights in order, a drop from a box first where there is one.
    number : int
        The repetition's, for the words.

    Returns
    -------
    tuple of Refused
        One for each expectation that it misses; empty where it counts. Its numbers stay.
    """
    missed = [
        expectation
        for expectation, is_met in _compare(exercise, list(seen)).items()
        if not is_met and expectation in exercise.invalid
    ]
    return tuple(
        Refused(
            f"repetition {number}",
            f"Repetition {number} does not count: {exercise.invalid[expectation]}.",
            exercise.happens,
        )
        for expectation in missed
    )


def _compare(exercise: Exercise, seen: list[FlightSeen]) -> dict[Expectation, bool]:
    jumps = [flight for flight in seen if not flight.is_drop]
    fewest, most = exercise.flights
    flights = [flight.flight for flight in jumps]
    return {
        "flights": fewest <= len(jumps) <= most,
        "approach": not jumps or jumps[0].approach in (*exercise.approaches, "unknown"),
        "take_off": all(f.take_off_side in exercise.take_off_sides for f in flights),
        "landing": all(f.landing_side in exercise.landing_sides for f in flights),
        "same_foot": not exercise.is_same_foot or all(_is_same_foot(flight) for flight in jumps),
        "turn": exercise.turn_deg is None
        or all(_is_turned(flight, exercise.turn_deg) for flight in jumps),
    }


def _is_same_foot(seen: FlightSeen) -> bool:
    """A take-off or landing on both feet is told by its own word."""
    sides = (seen.flight.take_off_side, seen.flight.landing_side)
    return "both" in sides or sides[0] == sides[1]


def _is_turned(seen: FlightSeen, turn_deg: float) -> bool:
    if seen.turn_deg is None:
        return True
    return abs(abs(seen.turn_deg.value) - turn_deg) <= _TURN_WITHIN_DEG
