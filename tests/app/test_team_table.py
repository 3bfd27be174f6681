"""A team's lines in the order of a head of their table."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import pytest

from app.history.reviews import ClipRecord
from app.repetitions import Kind, Repetition
from app.team_table import compare_team, falls, sort_lines

MONDAY = date(2026, 3, 2)


def a_repetition(
    athlete_id: int, name: str, *, on_date: date = MONDAY, **numbers: float
) -> Repetition:
    at = datetime.combine(on_date, time(12), UTC)
    clip = ClipRecord(
        athlete_id, athlete_id, name, at.date(), at, at, "ab" * 32, "a.mp4", 1, "drop_hops", {}
    )
    return Repetition(clip, 1, Kind("drop_hops"), numbers, None)


@pytest.mark.parametrize(
    ("quantity", "best_first"),
    [("height_m", ["Di", "bo", "Cy"]), ("contact_time_s", ["Cy", "bo", "Di"])],
)
def test_better_ones_come_first_and_last_when_turned(
    quantity: str, best_first: list[str]
) -> None:
    values = {"bo": 0.3, "Cy": 0.2, "Di": 0.4}
    found = [
        a_repetition(number, name, **{quantity: value, "height_sigma_m": 0.01,
                                      "contact_time_sigma_s": 0.01})
        for number, (name, value) in enumerate(values.items())
    ]  # fmt: skip
    lines = compare_team(found, found[0].kind, quantity, first_week=MONDAY, last_week=MONDAY)

    def names(order: str, *, is_turned: bool) -> list[str]:
        return [each.athlete for each in sort_lines(lines, order, quantity, is_turned=is_turned)]

    for order in ("best", "last"):
        assert names(order, is_turned=False) == best_first
        assert names(order, is_turned=True) == best_first[::-1]
        values_down = [values[name] for name in names(order, is_turned=False)]
        assert falls(order, quantity) == (values_down[0] > values_down[-1])
    assert names("name", is_turned=False) == ["bo", "Cy", "Di"]
    assert names("name", is_turned=True) == ["Di", "Cy", "bo"]
    assert names("change", is_turned=True) == names("change", is_turned=False)  # none has one
