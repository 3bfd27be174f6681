"""Numbers and tables as people read them."""

from __future__ import annotations

import dataclasses

import pytest

from app.report.quantities import lay_out, plain, show, show_cm, show_ms
from app.report.text import render_report, sentence
from measure.report import LandingReport, MarkTime, SprintReport
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


def test_a_sprint_shows_its_marks_and_its_start_rule() -> None:
    sprint = SprintReport(
        start_s=0.5, start_sigma_s=0.01, start_rule="first movement",
        marks=(MarkTime(4.572, 1.2344, 0.004), MarkTime(18.288, 3.2, 0.006)),
        max_speed_mps=8.12, max_speed_sigma_mps=0.06,
    )  # fmt: skip
    told = render_report(dataclasses.replace(a_report(), sprint=sprint), name="a.mp4")
    assert "  4.572     1.234 ± 0.004" in told
    assert "Start: first movement." in told
    assert "Top speed 8.12 ± 0.06 m/s." in told


def test_words_from_outside_become_sentences_and_plain() -> None:
    assert sentence("no jump is seen") == "No jump is seen."
    assert sentence("No jump is seen.") == "No jump is seen."
    assert plain("a\x1b[2J\nb") == "a?[2J?b"
