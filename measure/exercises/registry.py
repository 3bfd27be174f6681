"""All exercises, in the order in which people choose them. A new one is one file and one line."""

from __future__ import annotations

from collections.abc import Mapping

from measure.exercises.approach_jump import APPROACH_JUMP
from measure.exercises.definition import Exercise
from measure.exercises.drop_hops import DROP_HOPS
from measure.exercises.one_step_vertical import ONE_STEP_VERTICAL
from measure.exercises.shuffle_sprint import SHUFFLE_SPRINT
from measure.exercises.single_leg_vertical import SINGLE_LEG_VERTICAL
from measure.exercises.sprint import SPRINT
from measure.exercises.turn_jump import TURN_JUMP
from measure.exercises.vertical import VERTICAL

EXERCISES: Mapping[str, Exercise] = {
    exercise.key: exercise
    for exercise in (
        VERTICAL, ONE_STEP_VERTICAL, SINGLE_LEG_VERTICAL, DROP_HOPS, TURN_JUMP, APPROACH_JUMP,
        SPRINT, SHUFFLE_SPRINT,
    )
}  # fmt: skip


def find_exercise(key: str) -> Exercise:
    """Give the exercise of a key.

    Parameters
    ----------
    key : str

    Returns
    -------
    Exercise

    Raises
    ------
    ValueError
        Naming the keys there are.
    """
    if key not in EXERCISES:
        raise ValueError(f"exercise: expected one of {', '.join(EXERCISES)}, got {key!r}")
    return EXERCISES[key]
