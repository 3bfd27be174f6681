"""The history out of files and into files, on every database."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, date, datetime
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from app.exchange.readings import WrongTable, read_readings
from app.exchange.results import line_from_result, result_from_line
from app.exchange.tables import TABLES, kind_of
from app.history import Measured, open_history
from measure.report import as_json
from tests.app.conftest import Run
from tests.app.reports import a_jump, a_report, a_sprint

NOW = datetime(2026, 3, 20, tzinfo=UTC)


@pytest.fixture
def kept(url: str, data_folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Two athletes, a superseded result and a sprint, in the history that the commands open."""
    monkeypatch.setenv("FLIGHTMARK_DATABASE", url)
    reports = [
        ("Ada Brandt", a_report(a_jump(), a_jump(height_m=0.2), content="1")),
        ("Ada Brandt", a_report(a_jump(height_m=0.4), content="1")),
        ("Mika Orlov", a_report(content="2", exercise="sprint", sprint=a_sprint())),
    ]
    with open_history(url) as history:
        for athlete, report in reports:
            history.save_results(
                [Measured(as_json(report), athlete, date(2026, 3, 2), "Äö 1.mp4", NOW, 1.7, {})]
            )
    return url


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(Path(name).read_text(encoding="utf-8"))))


READINGS = """\
athlete,date,method,exercise,side,height_cm,height_sigma_cm,time_s,from_m,to_yd,start_rule,note
Ada Brandt,2026-03-02,tape,single_leg_vertical,left,31.5,1,,,,,
Ada Brandt,2026-03-02,tape,single_leg_vertical,left,31.5,1,,,,,
Zoe Lind,2026-03-09,stopwatch,sprint,,,,3.41,0,20,hand on the line,"wet, cold"
"""


def test_csv_has_the_current_jumps_of_all(kept: str, run: Run) -> None:
    assert run("export", "all.csv").code == 0
    rows = list(csv.DictReader(Path("all.csv").read_text(encoding="utf-8").splitlines()))
    assert [(row["athlete"], row["height_m"], row["clip"]) for row in rows] == [
        ("Ada Brandt", "0.4", "Äö 1.mp4")
    ]
    assert tuple(rows[0]) == TABLES["jumps"].columns
    assert rows[0]["height_standing_m"] == ""
    outcome = run("export", "splits.csv", "--what", "splits", "--athlete", "mika orlov")
    assert outcome.code == 0
    (split,) = csv.DictReader(Path("splits.csv").read_text(encoding="utf-8").splitlines())
    assert (split["to_m"], split["time_s"], split["start_rule"]) == ("10.0", "1.9", "first")


def test_parquet_holds_the_same_with_types(kept: str, run: Run) -> None:
    assert run("export", "all.csv").code == run("export", "all.parquet").code == 0
    table = pq.read_table("all.parquet")
    assert table.column_names == list(TABLES["jumps"].columns)
    (row,) = table.to_pylist()
    (text,) = csv.DictReader(Path("all.csv").read_text(encoding="utf-8").splitlines())
    for name, value in row.items():
        assert text[name] == ("" if value is None else str(value))
    assert isinstance(row["jump"], int)
    assert isinstance(row["height_m"], float)


def test_every_column_says_its_unit_or_is_a_word() -> None:
    endings = ("_m", "_s", "_mps", "_deg", "_pct", "value", "sigma")
    for table in TABLES.values():
        for name in table.columns:
            assert kind_of(name) != "number" or name.endswith(endings), name


def test_json_lines_come_back_as_they_were(
    kept: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("export", "all.jsonl").code == 0
    with open_history(kept) as history:
        before = {name: history.list_results(name, superseded=True)
                  for name in ("Ada Brandt", "Mika Orlov")}  # fmt: skip
    assert [len(each) for each in before.values()] == [2, 1]
    monkeypatch.setenv("FLIGHTMARK_DATABASE", f"sqlite:///{tmp_path / 'other.sqlite'}")
    for new in (3, 0):  # the same file twice adds nothing
        outcome = run("import", "all.jsonl")
        assert (outcome.code, outcome.out) == (0, f"{new} new results of 3.\n")
        with open_history() as other:
            for name, results in before.items():
                back = other.list_results(name, superseded=True)
                assert [each.report for each in back] == [each.report for each in results]
                assert [each.jumps for each in back] == [each.jumps for each in results]
                assert back[0].created_at == results[0].created_at
                assert back[0].request == {}
            assert other.list_athletes()[0].stature_m == 1.7


def test_readings_by_other_means_are_kept_apart(kept: str, run: Run) -> None:
    Path("r.csv").write_text("\ufeff" + READINGS, encoding="utf-8")
    outcome = run("import", "r.csv")
    assert outcome.out == "3 new numbers of 3, by stopwatch, tape; kept apart from results.\n"
    assert run("import", "r.csv").out.startswith("0 new numbers of 3")
    with open_history() as history:
        assert len(history.list_jumps("Ada Brandt")) == 1
        assert len(history.list_results("Ada Brandt")) == 1
        tape, again = history.list_readings("ada brandt")
        (watch,) = history.list_readings("Zoe Lind")
    assert tape == again
    assert tape.value == pytest.approx(0.315)
    assert tape.sigma == pytest.approx(0.01)
    assert (watch.quantity, watch.value, watch.sigma) == ("time_s", 3.41, None)
    assert watch.to_m == pytest.approx(18.288)
    assert watch.note == "wet, cold"
    shown = run("history", "Ada Brandt").out
    film, other = shown.split("By other means")
    assert "31.5" not in film
    assert "in no chart, trend or record" in other
    assert "31.5 ± 1.0 cm" in other
    assert "hand on the line" in run("history", "Zoe Lind").out
    assert run("export", "readings.csv", "--what", "readings").code == 0
    assert (
        len(list(csv.DictReader(Path("readings.csv").read_text(encoding="utf-8").splitlines())))
        == 3
    )


def test_the_method_can_be_said_once(kept: str, run: Run) -> None:
    Path("r.csv").write_text("athlete,date,height_m\nAda Brandt,2026-03-03,0.31\n")
    assert run("import", "r.csv").code == 2
    assert "by mat" in run("import", "r.csv", "--method", "mat").out


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "no column athlete"),
        ("athlete,date,method,height\nA,2026-03-02,tape,1\n", "unknown column height"),
        ("athlete,date,method,clip_sha256\n", "move them as .jsonl"),
        ("athlete,date,method,height_m\n", "no readings"),
        (
            "athlete,date,method,height_m\nA,2.3.26,tape,1\nA,2026-03-02,,1\n",
            "(?s)line 2: date.*line 3: method",
        ),
        ("athlete,date,method,height_m\nA,2026-03-02,film,1\n", "how it was measured"),
        ("athlete,date,method,height_m\nA,2026-03-02,tape,nan\n", "expected a number"),
        ("athlete,date,method,height_m\nA,2026-03-02,tape,-1\n", "> 0"),
        ("athlete,date,method,height_m\nA,2026-03-02,tape,\n", "expected a value"),
        ("athlete,date,method,time_s\nA,2026-03-02,watch,3\n", "expected to_m"),
        ("athlete,date,method,height_m\nA,2026-03-02\n", "as many values"),
        ("athlete,date,method,height_m\n\x07,2026-03-02,tape,1\n", "athlete: expected"),
    ],
)  # fmt: skip
def test_every_fault_of_a_table_is_told(text: str, told: str) -> None:
    with pytest.raises(WrongTable, match=told):
        read_readings(io.StringIO(text))


def a_line(**changes: object) -> str:
    line = {
        "schema": "flightmark.result/1", "athlete": "A", "on_date": "2026-03-02",
        "clip_name": "a.mp4", "saved_at": "2026-03-02T10:00:00+00:00",
        "report": as_json(a_report(a_jump())),
    } | changes  # fmt: skip
    return json.dumps(line)


def a_wrong(**changes: object) -> dict[str, object]:
    return as_json(a_report(a_jump())) | changes


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("[]", "expected an object"),
        ("{", "line 1"),
        ("[" * 100_000, "too deep"),
        (a_line(on_date=3), "another kind"),
        (a_line(athlete=""), "athlete"),
        (a_line(saved_at="2026-03-02T10:00:00"), "zone"),
        (a_line(request=3), "request"),
        (a_line(stature_m="tall"), "stature_m"),
        (a_line(report={"schema": "flightmark.report/1"}), "sha256"),
        (a_line(report=as_json(a_report(a_jump(height_m=float("nan"))))), "finite"),
        (a_line(report=as_json(a_report()) | {"jumps": [{}]}), "jump 1, take_off_s"),
        (a_line(report=as_json(a_report(a_jump(take_off_side="up")))), "take_off_side"),
        (a_line().replace("0.306458", "1e999"), "finite"),
        (a_line().replace("0.306458", "1" + "0" * 400), "height_m"),
        (a_line().replace("0.00274", "-0.00274"), "height_sigma_m"),
        (a_line(clip_name="\ud800"), "surrogates"),
        (a_line(on_date="0001-01-01"), "on_date"),
        (a_line(stature_m=-1), "stature_m"),
        (a_line(track_sha256="../../x"), "track_sha256"),
        (a_line(report=a_wrong(exercise={"a": 1})), "exercise"),
        (a_line(report=a_wrong(exercise="\0")), "exercise"),
        (a_line(report=a_wrong(sprint=3)), "start_rule"),
        (a_line(report=a_wrong(sprint={"start_rule": "x", "splits": [{}]})), "split 1"),
        (a_line(report=a_wrong(versions={"flightmark": "x" * 60})), "versions.flightmark"),
        (a_line(report=a_wrong(clip={"sha256": "ab" * 32, "recorded_at": 5})), "recorded_at"),
        (a_line(report=as_json(a_report(a_jump(landing={"knee": 3})))), "landing"),
    ],
    ids=range(26),
)  # fmt: skip
def test_a_line_that_is_no_result_keeps_the_whole_file_out(
    kept: str, run: Run, line: str, told: str
) -> None:
    good = a_line(athlete="New One")
    assert result_from_line(good).athlete == "New One"
    Path("some.jsonl").write_text(f"{good}\n{line}\n")
    outcome = run("import", "some.jsonl")
    assert outcome.code == 2
    assert told in outcome.err or "Expecting" in outcome.err
    with open_history() as history:
        assert history.find_athlete("New One") is None


@pytest.mark.parametrize(
    "line",
    [
        a_line(),
        json.dumps(json.loads(a_line()), indent=None, separators=(",", ":")),
        json.dumps({"report": 3} | json.loads(a_line())),
        a_line(request={"report": {"a": 1}}, clip_name='"report": {"a": 1}'),
        a_line(clip_name="ö\t\\ \\N \u2028"),
    ],
    ids=["as exported", "without spaces", "report first", "the word elsewhere", "odd letters"],
)
def test_a_line_is_read_however_it_is_written(kept: str, run: Run, line: str) -> None:
    usual = result_from_line(line)
    assert usual.report == json.loads(line)["report"]
    other = json.loads(line) | {"athlete": "New One"}
    Path("one.jsonl").write_text(json.dumps(other, ensure_ascii=False) + "\n", encoding="utf-8")
    outcome = run("import", "one.jsonl")
    assert (outcome.code, outcome.out) == (0, "1 new results of 1.\n"), outcome.err
    with open_history() as history:
        (back,) = history.list_results("New One")
    assert back.report == usual.report
    assert back.clip_name == usual.clip_name


def test_wrong_calls_are_said(kept: str, run: Run) -> None:
    assert run("export", "all.xlsx").code == 2
    assert run("export", "all.csv", "--athlete", "Nobody").code == 1
    assert run("export", "nowhere/all.csv").code == 3
    assert run("import", "missing.csv").code == 3
    assert run("import", "all.xlsx").code == 2
    Path("a.jsonl").write_text("")
    assert run("import", "a.jsonl", "--method", "tape").code == 2


def test_a_lines_result_is_what_was_kept(kept: str) -> None:
    with open_history(kept) as history:
        (result,) = history.list_results("Mika Orlov")
    back = result_from_line(line_from_result(result, stature_m=1.7))
    assert back.report == result.report
    assert (back.athlete, back.on_date, back.stature_m) == ("Mika Orlov", result.on_date, 1.7)
