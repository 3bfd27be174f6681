"""Jumps with a quarter turn in the air, to one side and back."""

from measure.exercises.definition import Exercise

TURN_JUMP = Exercise(
    key="turn_jump",
    name="turning jump",
    happens="Jump with a quarter turn in the air, land on both feet, turn back with the next one.",
    film_from=("front", "side"),
    measured=("height_m", "turn_deg", "landing"),
    approaches=("standing", "rebound"),
    turn_deg=90.0,
    alternates=True,
    asked_hold_s=None,
    invalid={
        "take_off": "it left from one foot",
        "landing": "it landed on one foot",
        "turn": "the turn was not a quarter",
    },
)
