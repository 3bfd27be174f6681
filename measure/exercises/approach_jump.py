"""Run-up, plant with both feet, jump."""

from measure.exercises.definition import Exercise

APPROACH_JUMP = Exercise(
    key="approach_jump",
    name="approach jump",
    happens="Run up, plant both feet, jump as high as possible, land on both feet.",
    film_from=("side",),
    measured=("height_m", "height_com_m", "contact_time_s", "landing"),
    approaches=("run_up",),
    invalid={
        "approach": "there was no run-up",
        "take_off": "it left from one foot",
        "landing": "it landed on one foot",
    },
)
