"""``flightmark history`` and ``flightmark demo``."""

from __future__ import annotations

import csv
import io
import json
from argparse import Namespace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from app.commands import demo
from app.demo_team import TEAM, WEEK_COUNT
from app.folders import sqlite_url
from app.history import open_history
from app.samples import list_samples
from measure.errors import NothingToMeasure, UnreadableClip
from tests.app.conftest import Run, StandIn
from tests.app.reports import FLIGHT_TIME_S, HEIGHT_M, a_jump, a_report, a_sprint


@pytest.fixture
def kept(data_folder: Path) -> None:
    """Three days of one athlete: both feet twice, the left foot once."""
    days = {
        date(2026, 3, 2): a_report(a_jump(height_m=0.30), a_jump(height_m=0.28), content="1"),
        date(2026, 3, 9): a_report(a_jump(height_m=0.34), content="2"),
        date(2026, 3, 16): a_report(
            a_jump(height_m=0.17, take_off_side="left", height_com_m=None, height_com_sigma_m=None),
            content="3", exercise="single_leg_vertical",
        ),
    }  # fmt: skip
    with open_history() as history:
        for day, report in days.items():
            history.save_result(
                report, athlete="Mika Orlov", on_date=day, clip_name=f"{day}.mp4",
                saved_at=datetime(2026, 3, 20, tzinfo=UTC),
            )  # fmt: skip


def test_like_is_shown_with_like(run: Run, kept: None) -> None:
    outcome = run("history", "mika orlov")
    assert outcome.code == 0
    both, left = outcome.out.split("single-leg vertical jump, off the left foot")
    assert "two-foot vertical jump, off both feet" in both
    assert "34.0 ± 0.3" in both
    assert "17.0 ± 0.3" in left
    assert "17.0" not in both


def test_the_chart_places_the_best_of_each_day(run: Run, kept: None) -> None:
    lines = run("history", "Mika Orlov", "--exercise", "vertical").out.splitlines()
    first, second = (line for line in lines if "●" in line)
    assert first.strip().startswith("2026-03-02")
    # Both days lie in a span of 10 cm around 32 cm, 48 places wide: 4 cm apart is 19 places.
    assert second.index("●") - first.index("●") == 19
    assert "27 cm" in "".join(lines)
    assert "37 cm" in "".join(lines)


def test_csv_has_a_row_per_jump_with_units_in_the_names(run: Run, kept: None) -> None:
    outcome = run("history", "Mika Orlov", "--csv", "-")
    rows = list(csv.DictReader(io.StringIO(outcome.out)))
    assert [row["height_m"] for row in rows] == ["0.3", "0.28", "0.34", "0.17"]
    assert [row["jump"] for row in rows] == ["1", "2", "1", "1"]
    assert rows[3]["height_com_m"] == ""
    assert rows[0]["recorded_at_utc"] == "2026-03-02T17:05:00Z"
    assert {"flight_time_s", "flight_time_sigma_s", "contact_time_s", "rsi_mps"} <= set(rows[0])


def test_csv_goes_to_a_file_beside_the_table(run: Run, kept: None) -> None:
    outcome = run("history", "Mika Orlov", "--csv", "out.csv")
    assert "off both feet" in outcome.out
    assert len(Path("out.csv").read_text().splitlines()) == 5
    assert run("history", "Mika Orlov", "--csv", "nowhere/out.csv").code == 3


def test_noise_is_told_from_change(run: Run, kept: None) -> None:
    both, left = run("history", "Mika Orlov").out.split("What stands out from noise")[1].split(
        "single-leg"
    )  # fmt: skip
    if "both feet" not in both:
        both, left = left, both
    assert "best 29.1" in both
    assert "no trend yet: There are 2 sessions over 7 days." in both
    with open_history() as history:
        for week in range(8):
            height_m = 0.30 + 0.005 * week + 0.004 * (-1) ** week
            jump = a_jump(height_com_m=height_m, height_com_sigma_m=0.004)
            history.save_result(
                a_report(jump, content=f"week {week}"), athlete="Zoe Lind", clip_name="z.mp4",
                on_date=date(2026, 3, 2) + timedelta(weeks=week),
                saved_at=datetime(2026, 5, 20, tzinfo=UTC),
            )  # fmt: skip
    told = run("history", "Zoe Lind").out.split("What stands out from noise")[1]
    assert "body's rise" in told
    assert "trend +0.4" in told  # half a centimetre a week, and the zigzag takes some of it
    assert "a change between two days is hardly noise beyond" in told
    assert "over 8 days" in told


def test_runs_are_shown_only_with_the_same_start_and_ground(run: Run, kept: None) -> None:
    with open_history() as history:
        for number, rule in enumerate(("first movement", "hand up", "first movement")):
            report = a_report(
                content=f"run {number}", exercise="sprint", sprint=a_sprint(start_rule=rule)
            )
            history.save_result(
                report, athlete="Mika Orlov", on_date=date(2026, 4, 1 + number),
                clip_name=f"run{number}.mp4", saved_at=datetime(2026, 4, 20, tzinfo=UTC),
            )  # fmt: skip
    outcome = run("history", "Mika Orlov", "--exercise", "sprint")
    assert outcome.code == 0
    first, hand = outcome.out.split("start: hand up, ground: grass")
    assert "start: first movement, ground: grass" in first
    for name, shown, apart in (("run0", first, hand), ("run2", first, hand), ("run1", hand, first)):
        assert name in shown
        assert name not in apart
    assert "1.90 ± 0.01" in hand
    assert "off both feet" not in outcome.out


def test_an_unknown_athlete_is_told_who_is_known(run: Run, kept: None) -> None:
    outcome = run("history", "Nobody")
    assert (outcome.code, outcome.out) == (1, "")
    assert "no athlete Nobody. Known are Mika Orlov." in outcome.err
    outcome = run("history", "Mika Orlov", "--exercise", "turn_jump")
    assert outcome.code == 1
    assert "Nothing of that exercise" in outcome.err


def test_an_empty_history_says_so(run: Run) -> None:
    assert "still empty" in run("history", "Nobody").err
    assert "history move --to URL" in run("history", "move").err


def test_of_many_athletes_only_some_are_named(run: Run) -> None:
    with open_history() as history:
        for number in range(25):
            history.save_result(
                a_report(a_jump()), athlete=f"Athlete {number:02d}", on_date=date(2026, 4, 1),
                clip_name="a.mp4", saved_at=datetime(2026, 4, 20, tzinfo=UTC),
            )  # fmt: skip
    told = run("history", "Nobody").err
    assert "Athlete 19 and 5 more." in told
    assert "Athlete 20" not in told


def a_truth_file(folder: Path, name: str, **changes: object) -> None:
    truth = {
        "exercise": "vertical", "measurable": True, "athlete": {"stature_m": 1.7},
        "jumps": [{"take_off_s": 1.21, "flight_time_s": FLIGHT_TIME_S - 0.001,
                   "height_m": HEIGHT_M, "height_com_m": 0.29}],
    } | changes  # fmt: skip
    (folder / f"{name}.json").write_text(json.dumps(truth))
    (folder / f"{name}.mp4").write_bytes(b"")


@pytest.fixture
def sample_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "samples"
    folder.mkdir()
    for visit in TEAM:
        a_truth_file(folder, visit.clip)
    a_truth_file(folder, "cut_off", measurable=False)
    a_truth_file(folder, "unseen")
    return folder


def test_the_demo_measures_each_clip_once_and_fills_its_own_history(
    sample_folder: Path, tmp_path: Path, data_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = {f"{visit.clip}.mp4": a_report(a_jump(), content=visit.clip) for visit in TEAM}
    answers["cut_off.mp4"] = NothingToMeasure("The feet are cut off.", "Film the feet.")
    answers["unseen.mp4"] = a_report(content="unseen")
    stand_in = StandIn(answers)
    folder = tmp_path / "demo"
    code = demo.run(Namespace(folder=folder), stand_in.measuring, clips_folder=sample_folder)
    told = capsys.readouterr().out
    assert code == 0
    assert len(stand_in.requests) == len(answers)
    assert all(request.stature_m == 1.7 for request in stand_in.requests)
    assert f"{len(TEAM)} of {len(TEAM) + 1} jumps measured. Flight time off by 1.0 ms" in told
    assert "cut_off: The feet are cut off. Film the feet." in told
    assert not data_folder.exists()
    with open_history(sqlite_url(folder)) as history:
        clip_counts = {each.name: each.clip_count for each in history.list_athletes()}
        days = {result.on_date for name in clip_counts for result in history.list_results(name)}
    assert sum(clip_counts.values()) == len(TEAM)
    assert len(days) == WEEK_COUNT


def test_a_demo_without_clips_says_so(tmp_path: Path) -> None:
    with pytest.raises(UnreadableClip, match="no sample clips"):
        demo.run(Namespace(folder=tmp_path), StandIn({}).measuring, clips_folder=tmp_path)


def test_every_visit_of_the_demo_team_has_its_clip_and_its_athletes_stature() -> None:
    stature_m = {sample.name: sample.stature_m for sample in list_samples() if sample.is_measurable}
    statures = {(visit.athlete, stature_m[visit.clip]) for visit in TEAM}
    assert len(statures) == len({visit.athlete for visit in TEAM})


def test_a_clip_counts_once_per_athlete() -> None:
    visits = [(visit.athlete, visit.clip) for visit in TEAM]
    assert len(set(visits)) == len(visits)
    assert {visit.week for visit in TEAM} == set(range(1, WEEK_COUNT + 1))
