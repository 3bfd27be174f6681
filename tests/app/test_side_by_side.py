"""Which two repetitions are offered to be seen side by side."""

from __future__ import annotations

from dataclasses import replace

from app.repetitions import Kind, Repetition
from app.side_by_side import CHOICES, suggest
from tests.app.test_team_table import a_repetition


def a_film(clip_id: int, kind: Kind, height_m: float) -> Repetition:
    made = a_repetition(1, "Bo", height_m=height_m)
    return replace(made, clip=replace(made.clip, clip_id=clip_id), kind=kind)


def test_newest_with_best_and_left_with_right_of_the_newest_exercise_that_has_both() -> None:
    left, right = (Kind("single_leg_vertical", side) for side in ("left", "right"))
    both = Kind("vertical")
    films = [
        a_film(1, Kind("one_step_vertical", "left"), 0.2),
        a_film(2, Kind("one_step_vertical", "right"), 0.2),
        a_film(3, left, 0.1), a_film(4, right, 0.12), a_film(5, left, 0.11),
        a_film(6, both, 0.4), a_film(7, both, 0.3), a_film(8, both, 0.35),
    ]  # fmt: skip
    pairs = suggest(films)
    found = {name: (pair.one.clip.clip_id, pair.two.clip.clip_id) for name, pair in pairs.items()}
    assert found == dict(zip(CHOICES, [(8, 6), (8, 7), (5, 4)], strict=True))
    assert CHOICES[2] not in suggest([films[0], *films[5:]])
