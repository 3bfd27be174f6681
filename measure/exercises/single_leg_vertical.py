"""Vertical jump from one leg, landed and held on the same leg."""

from measure.exercises.definition import Exercise

SINGLE_LEG_VERTICAL = Exercise(
    key="single_leg_vertical",
    name="single-leg vertical jump",
    happens="Stand on one leg, jump straight up, land on the same leg and hold for a second.",
    film_from=("side", "front"),
    measured=("height_m", "height_com_m", "take_off_side", "landing"),
    take_off_sides=("left", "right"),
    landing_sides=("left", "right"),
    is_same_foot=True,
    invalid={
        "approach": "it did not start from standing on one leg",
        "take_off": "it left from both feet",
        "landing": "it landed on both feet",
        "same_foot": "it landed on the other foot",
    },
)
