"""Large files into the history: read by a process of their own, a part at a time."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from app import exits
from app.commands import import_results
from app.exchange import aside, results
from app.history import open_history
from measure.report import as_json
from tests.app.conftest import Run
from tests.app.reports import a_jump, a_report, a_sprint

NOW = datetime(2026, 3, 20, tzinfo=UTC)
MONDAY = date(2026, 3, 2)
NAMES = ("Ada Brandt", "Mika Orlov", "Zoé \\ Lind")
COUNT = 60


@pytest.fixture(autouse=True)
def _all_files_are_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(import_results, "LARGE_BYTES", 0)


@pytest.fixture
def place(url: str, data_folder: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("FLIGHTMARK_DATABASE", url)
    return url


def a_line(number: int, *, stature_m: float | None = 1.7) -> str:
    if number % 3:
        report = a_report(a_jump(height_m=number / 100), a_jump(), content=str(number))
    else:
        report = a_report(content=str(number), exercise="sprint", sprint=a_sprint())
    return json.dumps(
        {
            "schema": "flightmark.result/1", "athlete": NAMES[number % len(NAMES)],
            "stature_m": stature_m, "on_date": str(MONDAY), "clip_name": f"Ä \\ {number}.mp4",
            "saved_at": NOW.isoformat(), "request": {"note": "a\\b"} if number % 2 else None,
            "track_sha256": None, "report": as_json(report),
        }, ensure_ascii=False,
    ) + "\n"  # fmt: skip


def write(name: str, lines: list[str], *, encoding: str = "utf-8") -> None:
    Path(name).write_text("".join(lines), encoding=encoding)


def all_kept(url: str) -> dict[str, list[tuple[object, ...]]]:
    with open_history(url) as history:
        return {
            name: [
                (each.report, each.request, each.clip_name, each.created_at, each.jumps)
                for each in history.list_results(name, superseded=True)
            ] + [(jump.jump,) for jump in history.list_jumps(name)]
            + [(split.time_s, split.to_m) for split in history.list_splits(name)]
            for name in NAMES
        }  # fmt: skip


def test_a_large_file_comes_in_as_a_small_one(
    place: str, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = [a_line(number) for number in range(COUNT)]
    write("all.jsonl", lines, encoding="utf-8-sig")
    for new in (COUNT, 0):  # the same file twice adds nothing
        outcome = run("import", "all.jsonl")
        assert (outcome.code, outcome.out) == (0, f"{new} new results of {COUNT}.\n"), outcome.err
    other = f"sqlite:///{tmp_path / 'other.sqlite'}"
    monkeypatch.setenv("FLIGHTMARK_DATABASE", other)
    monkeypatch.setattr(import_results, "LARGE_BYTES", 10**9)
    assert run("import", "all.jsonl").code == 0
    kept = all_kept(place)
    assert kept == all_kept(other)
    reports = [each[0] for rows in kept.values() for each in rows if len(each) == 5]
    told = [json.loads(line)["report"] for line in lines]
    assert sorted(map(json.dumps, reports)) == sorted(map(json.dumps, told))


def test_parts_are_one_import(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What an earlier part made is found by a later one, and a stature that changed counts."""
    monkeypatch.setattr(results, "AT_ONCE", 7)
    lines = [a_line(number, stature_m=1.6 + number / 1000) for number in range(COUNT)]
    with open_history(place) as history:
        parts = list(results.read_results([*lines, *lines[:3]]))
        assert [len(part) for part in parts] == [7] * 9 + [0]
        imported = history.import_results(lambda: parts)
        assert (imported.count, imported.new_count) == (COUNT + 3, COUNT)
        athletes = {each.name: each for each in history.list_athletes()}
    assert athletes.keys() == set(NAMES)
    assert athletes[NAMES[2]].stature_m == pytest.approx(1.6 + (COUNT - 1) / 1000)
    assert athletes[NAMES[2]].clip_count == COUNT // 3


def test_every_fault_of_a_large_file_is_told_and_nothing_kept(place: str, run: Run) -> None:
    write("all.jsonl", [a_line(1), "{}\n", a_line(2), a_line(3, stature_m=-1.0)])
    outcome = run("import", "all.jsonl")
    assert outcome.code == exits.WRONG_CALL
    assert "line 2: " in outcome.err
    assert "line 4: stature_m" in outcome.err
    write("all.jsonl", [a_line(1)], encoding="utf-16")
    assert run("import", "all.jsonl").code == exits.NOT_READ_OR_WRITTEN
    with open_history(place) as history:
        assert history.list_athletes() == []


def test_a_reader_that_dies_half_way_leaves_nothing(
    place: str, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It gives a whole part and the start of another."""
    write("all.jsonl", [a_line(number) for number in range(COUNT)])
    dying = (
        "import pickle, sys\n"
        "from app.exchange.results import read_results\n"
        "part = pickle.dumps(next(read_results(open('all.jsonl', encoding='utf-8'))))\n"
        "sys.stdout.buffer.write(part + part[:100])\n"
    )
    with monkeypatch.context() as patched:
        patched.setattr(aside, "CALL", ("-c", dying))
        outcome = run("import", "all.jsonl")
    assert outcome.code != 0
    assert "broke off" in outcome.err
    with open_history(place) as history:
        assert history.list_athletes() == []
    assert run("import", "all.jsonl").out == f"{COUNT} new results of {COUNT}.\n"


def test_a_reader_nobody_waits_for_ends(tmp_path: Path) -> None:
    """As when whoever imports is killed: it ends by itself, without a word."""
    path = tmp_path / "all.jsonl"
    write(str(path), [a_line(number) for number in range(COUNT)] * 20)
    with subprocess.Popen(
        [sys.executable, "-m", "app.exchange.aside", str(path)], stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.read(10)
        process.stdout.close()
        assert process.wait(20) == 1
        assert process.stderr.read() == b""


def test_two_imports_at_once_double_nothing(place: str, run: Run) -> None:
    """The same file from both ends: each clip is one clip, each result there once."""
    lines = [a_line(number) for number in range(COUNT)]
    open_history(place).close()
    counts = []

    def bring(order: list[str]) -> None:
        with open_history(place) as own:
            counts.append(own.import_results(lambda: results.read_results(order)).new_count)

    threads = [threading.Thread(target=bring, args=(order,)) for order in (lines, lines[::-1])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(counts) == COUNT
    with open_history(place) as history:
        assert sum(each.clip_count for each in history.list_athletes()) == COUNT
        kept = [len(history.list_results(name, superseded=True)) for name in NAMES]
    assert sum(kept) == COUNT
