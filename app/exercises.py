"""The exercises by key, with the names that people see."""

EXERCISE_NAMES = {
    "vertical": "two-foot vertical jump",
    "one_step_vertical": "one-step vertical jump",
    "single_leg_vertical": "single-leg vertical jump",
    "drop_hops": "drop from a box, then hops",
    "turn_jump": "turning jump",
    "approach_jump": "approach jump",
    "sprint": "sprint",
    "shuffle_sprint": "shuffle, turn and sprint",
}


def name_exercise(key: str | None) -> str:
    """Give the name to show for an exercise."""
    return "exercise not told" if key is None else EXERCISE_NAMES.get(key, key)
