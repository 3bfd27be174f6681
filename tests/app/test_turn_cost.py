"""What a turn costs, from kept runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from app.history import SplitRecord
from app.report.history_text import render_history
from app.turn_cost import list_turn_costs

RULE = "first_movement"


def run(result_id: int, exercise: str, *times: tuple[float, float], **changes: object) -> list[
    SplitRecord
]:  # fmt: skip
    """Splits of one run: (mark, seconds since the mark before)."""
    before_m = None
    splits = []
    for number, (to_m, time_s) in enumerate(times, start=1):
        split = SplitRecord(
            result_id, date(2026, 3, 2), None, f"{result_id}" * 64, "run.mp4", exercise, RULE,
            "grass", 0.0, number, before_m, to_m, time_s, 0.006,
        )  # fmt: skip
        splits.append(replace(split, **changes))  # type: ignore[arg-type]
        before_m = to_m
    return splits


# Nimphius et al. 2016, J Strength Cond Res 30:3024: 505 time 2.35 s less 10 m time 1.80 s.
STRAIGHT = run(1, "sprint", (5.0, 1.1), (10.0, 0.7))
SLOWER = run(2, "sprint", (5.0, 1.15), (10.0, 0.75))
TURNED = run(3, "shuffle_sprint", (5.0, 1.4), (10.0, 0.95), (15.0, 0.7), side="left")


def test_a_turn_against_the_fastest_straight_run_to_the_farthest_shared_mark() -> None:
    (cost,) = list_turn_costs([*STRAIGHT, *SLOWER, *TURNED])
    assert (cost.distance_m, cost.turning.side) == (10.0, "left")
    assert cost.deficit_s.value == pytest.approx(0.55)
    assert cost.deficit_s.sigma == pytest.approx(0.012)


@pytest.mark.parametrize(
    "other", [{"surface": "track"}, {"slope_pct": 3.0}, {"start_rule": "set by hand"}]
)
def test_other_ground_or_another_start_is_never_compared(other: dict[str, object]) -> None:
    apart = [replace(split, **other) for split in STRAIGHT]  # type: ignore[arg-type]
    assert list_turn_costs([*apart, *TURNED]) == []


def test_a_run_that_missed_a_mark_is_not_compared_beyond_it() -> None:
    missed = [TURNED[0], *TURNED[2:]]
    (cost,) = list_turn_costs([*STRAIGHT, *missed])
    assert cost.distance_m == 5.0


def test_the_history_shows_sides_slopes_and_what_the_turn_costs() -> None:
    uphill = run(4, "sprint", (10.0, 2.1), slope_pct=4.0, side="right")
    told = "\n".join(render_history([], athlete="Ada", splits=[*STRAIGHT, *TURNED, *uphill]))
    assert "right foot in front, start: first_movement, ground: grass, slope +4 %" in told
    assert "towards the left" in told
    assert "0.55 ± 0.01" in told
