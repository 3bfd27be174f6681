"""Lateral shuffle to a mark, turn, sprint."""

from measure.exercises.definition import Exercise

SHUFFLE_SPRINT = Exercise(
    key="shuffle_sprint",
    name="shuffle, turn and sprint",
    happens="Shuffle sideways to the first mark, turn, and sprint past the others.",
    film_from=("side",),
    measured=("marks", "turn_s"),
    flights=(0, 0),
    asked_hold_s=None,
    is_on_lane=True,
)
