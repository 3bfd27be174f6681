"""Sprint along marks at known distances."""

from measure.exercises.definition import Exercise

SPRINT = Exercise(
    key="sprint",
    name="sprint",
    happens="Start from any set position and run past all the marks.",
    film_from=("side",),
    measured=("marks", "max_speed_mps"),
    flights=(0, 0),
    asked_hold_s=None,
    is_on_lane=True,
)
