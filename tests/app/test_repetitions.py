"""Kept reports as repetitions: named in anybody's units, paired, worth a look, seen again."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from app.history.reviews import ClipRecord
from app.landing_patterns import landing_patterns
from app.repetitions import Repetition, list_repetitions
from app.report.units import Units
from app.side_by_side import CHOICES, common_moments, list_films, list_moments, suggest
from app.standing import worth_a_look
from calibration.values import Refused
from measure.report import LandingReport, MarkTime, Report, SplitTime, as_json
from tests.app.reports import a_jump, a_report, a_sprint

METRES, YARDS = Units(), Units(uses_yards=True)
FIRST_DAY = date(2026, 3, 2)


def a_clip(number: int, report: Report) -> ClipRecord:
    """A clip of one athlete, a day after the one before."""
    day = FIRST_DAY + timedelta(days=number)
    at = datetime(day.year, day.month, day.day, 17, tzinfo=UTC)
    return ClipRecord(number, 1, "Bo", day, at, at, f"{number:064x}", "a.mp4", number,
                      report.exercise, as_json(report))  # fmt: skip


def a_run(time_s: float = 3.2, **changes: Any) -> Report:
    sprint = a_sprint(
        marks=(MarkTime(9.144, 2.0, 0.01), MarkTime(18.288, 4.0, 0.01)),
        splits=(SplitTime(9.144, 1.6, 0.01), SplitTime(18.288, time_s, 0.01, 9.144)),
        start_rule="first_movement", **changes,
    )  # fmt: skip
    return a_report(sprint=sprint, exercise="sprint")


def repetitions(*reports: Report) -> list[Repetition]:
    return list_repetitions([a_clip(n, report) for n, report in enumerate(reports, 1)], {})


def test_a_stretch_is_named_in_the_readers_units() -> None:
    first, second = repetitions(a_run())
    assert first.kind.name(YARDS) == "sprint, start to 10 yd, from the first movement, grass"
    assert second.kind.name(YARDS) == "sprint, 10 yd to 20 yd, grass"
    assert second.kind.name(METRES) == "sprint, 9.144 m to 18.288 m, grass"
    assert list_moments(second, YARDS) == {"start": 0.8, "10 yd": 2.0, "20 yd": 4.0}


def test_a_run_is_one_film_and_starts_together_with_another() -> None:
    films = list_films(repetitions(a_run(3.0), a_run(3.4), a_run(3.2)))
    assert [film.value("split") for film in films] == [3.0, 3.4, 3.2]
    pairs = suggest(films)
    best, before = pairs[CHOICES[0]], pairs[CHOICES[1]]
    assert (best.two.value("split"), before.two.value("split")) == (3.0, 3.4)
    assert common_moments(best, METRES) == ["start", "9.144 m", "18.288 m"]


def test_left_is_shown_with_right_and_a_run_never_with_a_jump() -> None:
    feet = [a_report(a_jump(take_off_side=foot), exercise="single_leg_vertical")
            for foot in ("left", "right")]  # fmt: skip
    films = list_films(repetitions(a_run(), *feet))
    pairs = suggest(films)
    assert list(pairs) == [CHOICES[2]]
    sides = pairs[CHOICES[2]]
    assert (sides.one.kind.side, sides.two.kind.side) == ("left", "right")
    assert common_moments(sides, METRES) == ["take-off", "landing"]
    mixed = type(sides)(films[0], films[1])
    assert common_moments(mixed, METRES) == []


@pytest.mark.parametrize(
    ("report", "reason"),
    [
        (a_run(start_s=None, start_sigma_s=None), "the start was not found"),
        (a_run(followed=("the camera moved",)), "others ran too, or the phone moved"),
        (a_report(sprint=a_sprint(splits=(SplitTime(10.0, 1.9, 0.05),))), "wide doubt"),
        (a_report(sprint=a_sprint(), refusals=(Refused("mark 20 m", "Unseen.", "Film it."),)),
         "a mark was not timed"),
        (a_report(a_jump(height_sigma_m=0.03)), "wide doubt"),
        (a_report(), "nothing was measured"),
    ],
)  # fmt: skip
def test_runs_and_jumps_wait_for_a_look_with_the_reason(report: Report, reason: str) -> None:
    assert reason in worth_a_look(as_json(report))


def test_what_is_sure_does_not_wait() -> None:
    assert worth_a_look(as_json(a_run())) == []
    assert worth_a_look(as_json(a_report(a_jump()))) == []


def test_three_stiff_landings_in_three_clips_are_a_pattern() -> None:
    stiff = LandingReport(
        knee_flexion_contact_deg={"left": 8.0, "right": 9.0},
        knee_flexion_contact_sigma_deg={"left": 4.0, "right": 4.0},
    )
    clips = [a_report(a_jump(landing=stiff))] * 3
    assert landing_patterns(repetitions(*clips[:2]), sex=None) is None
    found = landing_patterns(repetitions(*clips), sex=None)
    assert found is not None
    assert found.landing_count == 3
    assert found.days == (FIRST_DAY + timedelta(days=1), FIRST_DAY + timedelta(days=3))
    [caution] = found.cautions
    assert "a pattern" in caution.text
    assert "of 3 landings" in caution.seen
