"""Vertical jump out of one step, on either side."""

from measure.exercises.definition import Exercise

ONE_STEP_VERTICAL = Exercise(
    key="one_step_vertical",
    name="one-step vertical jump",
    happens="Take one step, plant, jump straight up, land and hold.",
    film_from=("side",),
    measured=("height_m", "height_com_m", "contact_time_s", "take_off_side", "landing"),
    approaches=("one_step",),
    take_off_sides=("left", "right", "both"),
    landing_sides=("both", "left", "right"),
    invalid={"approach": "the one step before the plant did not happen"},
)
