"""The exercises by key, with the names that people see."""

from measure.exercises.registry import EXERCISES

EXERCISE_NAMES = {key: exercise.name for key, exercise in EXERCISES.items()}


def name_exercise(key: str | None) -> str:
    """Give the name to show for an exercise."""
    return "exercise not told" if key is None else EXERCISE_NAMES.get(key, key)
