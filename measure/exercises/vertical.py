"""Countermovement jump on both feet."""

from measure.exercises.definition import Exercise

VERTICAL = Exercise(
    key="vertical",
    name="two-foot vertical jump",
    happens="Stand on both feet, dip, jump straight up, land on both feet and hold.",
    film_from=("side", "front"),
    measured=("height_m", "height_com_m", "height_standing_m", "landing"),
    invalid={
        "approach": "it did not start from standing",
        "take_off": "it left from one foot",
        "landing": "it landed on one foot",
    },
)
