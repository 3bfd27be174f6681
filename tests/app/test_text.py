"""Numbers and tables as people read them."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest

from app.report.quantities import lay_out, plain, show, show_cm, show_ms
from app.report.sprint_text import render_sprint
from app.report.text import render_report, sentence
from calibration.values import Refused
from measure.report import (
    ForceProfile,
    JumpReport,
    LandingReport,
    MarkTime,
    Report,
    SplitTime,
    SprintReport,
    StepContact,
    TurnTime,
)
from tests.app.reports import a_jump, a_report


@pytest.mark.parametrize(
    ("value_m", "sigma_m", "shown"),
    [
        (0.306458, 0.00274, "30.6 ± 0.3"),
        (0.306458, 0.0004, "30.65 ± 0.04"),
        (0.42, 0.012, "42.0 ± 1.2"),
        (0.42, 0.0, "42.00"),
        (0.42, None, "42.00"),
        (None, None, "–"),
    ],
)
def test_centimetres_have_the_decimals_that_their_doubt_deserves(
    value_m: float | None, sigma_m: float | None, shown: str
) -> None:
    assert show_cm(value_m, sigma_m) == shown


def test_milliseconds_are_whole_where_the_doubt_is() -> None:
    assert show_ms(0.5004, 0.00224) == "500 ± 2"
    assert show_ms(0.5004, 0.0004) == "500.4 ± 0.4"
    assert show_ms(0.212, 0.0132) == "212 ± 13"
    assert show(-88.0, 9.0) == "-88 ± 9"


def test_columns_are_aligned_and_empty_ones_go() -> None:
    rows = [("jump", "turn", "on"), ("1", "–", "left"), ("22", "–", "both")]
    assert lay_out(rows) == ["  jump   on", "  1      left", "  22     both"]


def test_a_landing_brings_the_standing_notice() -> None:
    without = "\n".join(render_report(a_report(a_jump()), name="a.mp4"))
    landed = a_report(a_jump(landing=LandingReport(held_s=1.0)))
    assert "no diagnosis" not in without
    assert "no diagnosis" in "\n".join(render_report(landed, name="a.mp4"))


def told(report: Report) -> str:
    return "\n".join(render_report(report, name="a.mp4"))


def words(report: Report) -> str:
    return " ".join(told(report).split())


def test_a_sprint_shows_marks_splits_and_its_start_rule() -> None:
    sprint = SprintReport(
        start_s=0.5, start_sigma_s=0.003, start_rule="first_movement",
        marks=(MarkTime(4.572, 1.7344, 0.004), MarkTime(18.288, 3.7, 0.006)),
        splits=(SplitTime(4.572, 1.2344, 0.005), SplitTime(18.288, 1.9656, 0.0098, 4.572, 6.978)),
        max_speed_mps=8.12, max_speed_sigma_mps=0.06, max_speed_at_m=17.0,
        step_count=9, step_length_m=1.5, step_length_sigma_m=0.02, start_foot="left",
        turn=TurnTime(1.0, 0.03, 1.4, 0.04, "right"), surface="grass", slope_pct=-1.5,
        followed=("another runner passes",),
    )  # fmt: skip
    report = dataclasses.replace(a_report(), sprint=sprint)
    assert "  4.572     1.734 ± 0.004    1.234 ± 0.005" in told(report)
    assert "  start     4.572    1.234 ± 0.005   –" in told(report)
    # The speed's doubt is that of its time: 6.978 m/s times 0.5 %.
    assert "  4.572     18.288   1.966 ± 0.010   6.98 ± 0.03" in told(report)
    assert "Start: the first movement out of the set position, at 0.500 ± 0.003 s" in words(report)
    assert "Turn towards the right: 0.40 ± 0.05 s" in words(report)
    assert "Highest speed filmed: 8.12 ± 0.06 m/s, about 17 m." in words(report)
    assert "In front at the start: the left foot." in words(report)
    assert "Steps: 9, 1.50 ± 0.02 m each." in words(report)
    assert "Ground: grass, slope -1.5 %. Note: another runner passes." in words(report)


def test_a_sprint_shows_contacts_and_force_where_they_were_measured() -> None:
    sprint = SprintReport(
        0.5, 0.01, "first_movement", (MarkTime(10.0, 2.0, 0.004),), contact_time_s=0.131,
        contact_time_sigma_s=0.012, step_contacts=(StepContact(1.0, 0.01, 1.13, 0.02, 4.0),) * 8,
        force_profile=ForceProfile(
            6.73, 0.21, 8.83, 0.12, 14.86, 0.4, 0.48, 0.01, -0.07, 0.003, 61.0, 1.68
        ),
    )  # fmt: skip
    report = dataclasses.replace(a_report(), sprint=sprint)
    assert "Ground contact of a step: 131 ± 12 ms, the middle of 8 steps" in words(report)
    assert "for 61 kg in still air: 6.73 ± 0.21 N/kg at no speed" in words(report)
    assert "highest power 14.9 ± 0.4 W/kg" in words(report)


@pytest.mark.parametrize(
    ("chance", "said"), [(0.962, "96 %"), (0.9992, "more than 99 %"), (None, None)]
)
def test_a_foot_that_was_seen_is_told_with_its_chance_and_never_as_certain(
    chance: float | None, said: str | None
) -> None:
    sprint = SprintReport(1.0, 0.01, "first_movement", (), start_foot="left",
                          start_foot_chance=chance)  # fmt: skip
    (line,) = [one for one in render_sprint(sprint) if "In front at the start" in one]
    assert "left foot" in line
    assert ("seen" in line) == (said is not None)
    assert said is None or said in line
    assert "100 %" not in line


def test_a_sprint_without_a_start_counts_from_the_clip() -> None:
    sprint = SprintReport(None, None, "first_movement", (MarkTime(10.0, 2.0, 0.004),))
    assert "after the start" not in told(dataclasses.replace(a_report(), sprint=sprint))
    assert "Start: not measured" in told(dataclasses.replace(a_report(), sprint=sprint))


def several(*rises_m: float, **changes: Any) -> list[JumpReport]:
    return [
        a_jump(
            take_off_s=1.2 + 5 * number, landing_s=1.7 + 5 * number, height_com_m=rise_m,
            height_com_sigma_m=0.01, **changes,
        )
        for number, rise_m in enumerate(rises_m)
    ]  # fmt: skip


def test_a_set_says_best_mean_drop_off_rests_and_contacts() -> None:
    report = words(a_report(*several(0.30, 0.32, 0.28), contacts=()))
    assert "Together: 3 jumps in 3 repetitions, 3 ground contacts." in report
    assert "Rest between repetitions: 4.500 ± 0.002, 4.500 ± 0.002 s." in report
    assert "Body's rise off both feet: best 32.0 ± 1.0 cm (jump 2), mean 30.0 ± 0.6 cm" in report
    # (32 - 28) / 32, by hand.
    assert "spread 2.0 cm, the last 12 ± 4 % below the best." in report


def test_a_set_whose_last_was_its_best_has_no_drop_off() -> None:
    report = words(a_report(*several(0.30, 0.32), contacts=()))
    assert "the last was the best" in report
    assert "below the best" not in report


def test_sides_are_compared_by_their_means() -> None:
    left, right = several(0.20, take_off_side="left"), several(0.25, take_off_side="right")
    later = dataclasses.replace(right[0], take_off_s=9.0, landing_s=9.5)
    report = words(a_report(*left, later, contacts=()))
    # (25 - 20) / 25, by hand.
    assert "left against right: The left side is 20 ± 5 % lower" in report


def test_ground_contacts_are_told_fast_from_slow() -> None:
    row = [
        a_jump(take_off_s=1.2 + t, landing_s=1.7 + t, contact_time_s=ground_s,
               contact_time_sigma_s=0.004, rsi_mps=1.5, rsi_sigma_mps=0.03)
        for t, ground_s in ((0.0, 0.2), (0.7, 0.252), (1.5, 0.3))
    ]  # fmt: skip
    report = told(a_report(*row, contacts=()))
    assert "  1      200 ± 4      fast             1.50 ± 0.03" in report
    assert "  2      252 ± 4      borderline " in report
    assert "  3      300 ± 4      slow " in report
    assert "3 jumps in 1 repetition" in report


def test_landings_have_a_column_each_and_only_what_was_measured() -> None:
    landing = LandingReport(
        knee_flexion_contact_deg={"left": 24.4}, knee_flexion_contact_sigma_deg={"left": 4.0},
        held_s=1.2, held_sigma_s=0.02, hold_ended_by="other_foot_down",
    )  # fmt: skip
    report = told(a_report(*[
        dataclasses.replace(jump, landing=landing) for jump in several(0.3, 0.3)
    ]))  # fmt: skip
    rows = [" ".join(line.split()) for line in report.splitlines()]
    assert "landing of jump 1 2" in rows
    assert "knee bend at contact, left, deg 24 ± 4 24 ± 4" in rows
    assert "held for, s 1.20 ± 0.02 1.20 ± 0.02" in rows
    assert "hold ended by other foot down other foot down" in rows
    assert "right, deg" not in report
    assert "steady after" not in report


def test_where_nothing_is_measured_only_the_reason_is_told() -> None:
    refusals = (Refused("jumps", "Nobody jumps.", "Jump."), Refused("scale", "None.", "Say it."))
    assert "scale" not in told(a_report(refusals=refusals, scale=None))
    assert "- scale: None. Say it." in told(a_report(a_jump(), refusals=refusals, scale=None))


def test_no_line_is_wider_than_a_terminal() -> None:
    jump = a_jump(
        height_standing_m=0.4, height_standing_sigma_m=0.014, contact_time_s=0.2,
        contact_time_sigma_s=0.003, rsi_mps=1.5, rsi_sigma_mps=0.03, turn_deg=-88.0,
        turn_sigma_deg=9.0, take_off_side="left", landing_side="right",
    )  # fmt: skip
    assert max(map(len, told(a_report(jump)).splitlines())) <= 100


def test_words_from_outside_become_sentences_and_plain() -> None:
    assert sentence("no jump is seen") == "No jump is seen."
    assert sentence("No jump is seen.") == "No jump is seen."
    assert plain("a\x1b[2J\nb") == "a?[2J?b"
