"""Drop from a low box, then quick hops in a row."""

from measure.exercises.definition import Exercise

DROP_HOPS = Exercise(
    key="drop_hops",
    name="drop from a box, then hops",
    happens="Step off a low box, hop quickly over the hurdles, land the last one and hold.",
    film_from=("side",),
    measured=("contact_time_s", "height_m", "rsi_mps", "landing"),
    approaches=("rebound",),
    flights=(1, 20),
    is_from_box=True,
    invalid={
        "approach": "the drop did not go straight over into a hop",
        "take_off": "a hop left from one foot",
        "landing": "a hop landed on one foot",
        "flights": "no hop followed the drop",
    },
)
