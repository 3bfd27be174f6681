"""A whole history to another place and back: between both kinds of database, and interrupted."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import zipfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from app.errors import HistoryFailed
from app.exchange.readings import Reading
from app.history import Measured, MeasuredBy, moving, open_history
from app.history.moving import move_history
from app.history.opening import _address
from app.history.rows import FACTS, list_tables, measure_content, read_rows, write_rows
from app.store import DrawnFiles, open_store
from measure.report import Versions, as_json
from tests.app.conftest import Run
from tests.app.postgres import PostgresServer
from tests.app.reports import a_jump, a_report, a_sprint

ROOT = Path(__file__).resolve().parents[2]
EVENING = datetime(2026, 3, 20, 23, 30, 0, 123456, tzinfo=timezone(timedelta(hours=-5)))
Place = Callable[[], str]
PAIRS = [("sqlite", "postgresql"), ("postgresql", "sqlite"), ("sqlite", "sqlite")]


def new_place(kind: str, request: pytest.FixtureRequest, tmp_path: Path, name: str) -> str:
    if kind == "sqlite":
        return f"sqlite:///{tmp_path / name}.sqlite"
    server: PostgresServer = request.getfixturevalue("postgres")
    return server.new_database()


@pytest.fixture(params=PAIRS, ids="-to-".join)
def places(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, str]:
    """A filled history and an empty database."""
    source, target = (
        new_place(kind, request, tmp_path, name)
        for kind, name in zip(request.param, ("source", "target"), strict=True)
    )
    fill(source)
    return source, target


def fill(url: str, count: int = 30) -> None:
    """Something in every table that the history itself has, and in one of the pages."""
    with open_history(url) as history:
        history.save_results([
            Measured(
                as_json(a_report(a_jump(), a_jump(height_m=0.1 + 1e-17), content=str(number))),
                f"Athlete {number % 3} Äöü 🏃", date(2026, 3, 1 + number % 20), "a.mp4", EVENING,
                1.7, {"stature_m": 1.7} if number % 2 else None,
            )
            for number in range(count)
        ])  # fmt: skip
        run = a_report(content="run", exercise="sprint", sprint=a_sprint())
        history.save_results([Measured(as_json(run), "Mika", date(2026, 3, 1), "r.mp4", EVENING)])
        history.save_readings(
            [Reading("Mika", date(2026, 3, 2), "tape", "height_m", 0.3, note="\"a\",\n'b'")],
            imported_at=EVENING,
        )
        history.note_unmeasured(
            MeasuredBy("Zoe", "ab" * 32, "cd" * 32, Versions("0.1.0", "pose", "ef" * 32)),
            clip_name="z.mp4", reason="Nobody is seen.", noted_at=EVENING,
        )  # fmt: skip
    engine = create_engine(_address(url))
    with engine.begin() as connection:
        connection.execute(
            text("INSERT INTO team (name, name_key, created_at) VALUES ('A', 'a', :now)"),
            {"now": EVENING.astimezone(UTC)},
        )
        connection.execute(text(
            "INSERT INTO team_athlete (team_id, athlete_id) SELECT team.id, athlete.id "
            "FROM team, athlete"
        ))  # fmt: skip
    engine.dispose()


def contents(url: str) -> dict[str, object]:
    engine = create_engine(_address(url))
    with engine.connect() as connection:
        found = {
            table.name: measure_content(read_rows(connection, table))
            for table in list_tables(connection)
        }
    engine.dispose()
    return found


def silent(_table: str, _part: float) -> None:
    pass


def check_alive(url: str) -> None:
    """New rows find free keys, and what belongs together still does."""
    with open_history(url) as history:
        saved = history.save_result(
            a_report(a_jump(), content="new"), athlete="New", on_date=date(2026, 4, 1),
            clip_name="n.mp4", saved_at=EVENING,
        )  # fmt: skip
        assert history.list_results("new") == [saved]
        (first, *_) = history.list_results("athlete 0 äöü 🏃")
        assert first.created_at == EVENING
        assert first.jumps[1].height_m == 0.1 + 1e-17


def test_a_moved_history_is_the_same(places: tuple[str, str]) -> None:
    source, target = places
    before = contents(source)
    steps: list[float] = []
    counts = move_history(source, target, told=lambda _table, part: steps.append(part))
    assert contents(source) == contents(target) == before
    assert counts["result"] == 31
    assert counts["team_athlete"] == 5
    assert steps == sorted(steps)
    check_alive(target)
    with pytest.raises(HistoryFailed, match="already"):
        move_history(source, target, told=silent)


def test_an_interrupted_move_is_no_history_until_it_is_called_again(
    places: tuple[str, str],
) -> None:
    source, target = places

    def stop(table: str, _part: float) -> None:
        if table == "result":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        move_history(source, target, told=stop)
    with pytest.raises(HistoryFailed, match="only half there"):
        open_history(target)
    # Meanwhile the old one lives on: a row goes, a row changes, rows come.
    with open_history(source) as history:
        history.save_result(
            a_report(a_jump(), content="later"), athlete="Later", on_date=date(2026, 4, 1),
            clip_name="l.mp4", saved_at=EVENING, stature_m=1.9,
        )  # fmt: skip
        with history._writer.begin() as connection:
            connection.execute(text("DELETE FROM athlete WHERE name = 'Zoe'"))
            connection.execute(
                text("UPDATE athlete SET stature_m = 1.6 WHERE name_key LIKE 'mika'")
            )
        # Somebody new has the name of somebody who went.
        history.save_result(
            a_report(a_jump(), content="other"), athlete="Zoe", on_date=date(2026, 4, 1),
            clip_name="o.mp4", saved_at=EVENING,
        )  # fmt: skip
    move_history(source, target, told=silent)
    assert contents(source) == contents(target)
    check_alive(target)


def test_another_history_is_never_written_over(places: tuple[str, str]) -> None:
    source, target = places
    fill(target, count=2)
    before = contents(target)
    with pytest.raises(HistoryFailed, match="another history"):
        move_history(source, target, told=silent)
    with pytest.raises(HistoryFailed, match="there already"):
        move_history(source, source, told=silent)
    assert contents(target) == before


def test_a_difference_is_found(places: tuple[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    source, target = places
    monkeypatch.setattr(
        moving, "write_rows",
        lambda connection, table, rows: write_rows(connection, table, rows[:-1]),
    )  # fmt: skip
    with pytest.raises(HistoryFailed, match=r"could not be moved|differs"):
        move_history(source, target, told=silent)


def test_a_move_that_is_killed_goes_on(
    run: Run, tmp_path: Path, postgres: PostgresServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, target = f"sqlite:///{tmp_path / 'source.sqlite'}", postgres.new_database()
    fill(source, count=1500)
    script = (
        "import sys, time\n"
        "from app.history.moving import move_history\n"
        "def told(table, part):\n"
        "    print(table, flush=True)\n"
        "    time.sleep(0.02)\n"
        "move_history(sys.argv[1], sys.argv[2], told=told)\n"
    )
    mover = subprocess.Popen(
        [sys.executable, "-c", script, source, target], stdout=subprocess.PIPE, text=True,
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert mover.stdout is not None
    for line in mover.stdout:
        if line.strip() == "result":
            break
    mover.send_signal(signal.SIGKILL)
    mover.wait()
    mover.stdout.close()
    monkeypatch.setenv("FLIGHTMARK_DATABASE", source)
    outcome = run("history", "move", "--to", target)
    assert outcome.code == 0, outcome.err
    assert "counts and contents are the same" in outcome.out
    assert contents(source) == contents(target)
    assert run("history", "Mika", "--to", target).code == 2


def test_a_backup_comes_back_as_it_was(
    places: tuple[str, str], run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, target = places
    monkeypatch.setenv("FLIGHTMARK_DATABASE", source)
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "store"))
    clip = open_store().keep_bytes(b"film", kind="clips")
    track = open_store().keep_bytes(b"track")
    DrawnFiles(open_store()).keep_bytes(clip, "take_off.jpg", b"picture")
    outcome = run("backup", "all.zip")
    assert outcome.code == 0, outcome.err
    assert "2 clips and tracks in all.zip, restored once to check it." in outcome.out
    assert Path("all.zip").stat().st_mode & 0o077 == 0
    monkeypatch.setenv("FLIGHTMARK_DATABASE", target)
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "other"))
    outcome = run("restore", "all.zip")
    assert outcome.code == 0, outcome.err
    assert contents(source) == contents(target)
    assert open_store().read_bytes(clip, kind="clips") == b"film"
    assert open_store().has(track, kind="tracks")
    picture = DrawnFiles(open_store()).find(clip, "take_off.jpg")
    assert picture is not None
    assert picture.read() == b"picture"
    check_alive(target)
    before = contents(target)
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "third"))
    outcome = run("restore", "all.zip")
    assert outcome.code == 3
    assert "not empty" in outcome.err
    assert contents(target) == before
    assert not open_store().has(clip)  # nobody's film stays behind
    assert DrawnFiles(open_store()).list_names(clip) == []


def test_tables_can_be_kept_alone(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FLIGHTMARK_DATABASE", f"sqlite:///{tmp_path / 'a.sqlite'}")
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "store"))
    open_store().keep_bytes(b"film", kind="clips")
    fill(f"sqlite:///{tmp_path / 'a.sqlite'}", count=1)
    assert "and 0 clips and tracks" in run("backup", "all.zip", "--without-files").out
    assert run("backup", "nowhere/all.zip").code == 3


@pytest.fixture
def backup(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A backup of a small history; the environment then names an empty one."""
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "store"))
    monkeypatch.setenv("FLIGHTMARK_DATABASE", f"sqlite:///{tmp_path / 'a.sqlite'}")
    fill(f"sqlite:///{tmp_path / 'a.sqlite'}", count=3)
    open_store().keep_bytes(b"film", kind="clips")
    assert run("backup", "all.zip").code == 0
    monkeypatch.setenv("FLIGHTMARK_DATABASE", f"sqlite:///{tmp_path / 'b.sqlite'}")
    monkeypatch.setenv("FLIGHTMARK_STORE", str(tmp_path / "other"))
    return Path("all.zip")


def altered(backup: Path, name: str, change: Callable[[bytes], bytes]) -> None:
    """Change one part of a backup."""
    with zipfile.ZipFile(backup) as archive:
        parts = {entry: archive.read(entry) for entry in archive.namelist()}
    with zipfile.ZipFile(backup, "w") as archive:
        for entry, content in parts.items():
            archive.writestr(entry, change(content) if entry.startswith(name) else content)


@pytest.mark.parametrize(
    ("name", "change", "told"),
    [
        ("tables/jump", lambda content: content.replace(b"0.306458", b"0.406458"), "different"),
        ("tables/jump", lambda content: content[: len(content) // 2], "damaged"),
        ("tables/clip", lambda content: content.split(b"\n", 1)[-1], "different"),
        ("files/clips", lambda content: content + b"!", "damaged"),
        ("manifest", lambda content: content.replace(b"backup/1", b"backup/9"), "no backup"),
        ("manifest", lambda content: b"{}", "no backup"),
    ],
    ids=["number", "half", "row", "film", "schema", "empty"],
)
def test_a_damaged_backup_restores_nothing(
    backup: Path, run: Run, name: str, change: Callable[[bytes], bytes], told: str
) -> None:
    altered(backup, name, change)
    outcome = run("restore", str(backup))
    assert outcome.code == 3
    assert told in outcome.err
    with open_history() as history:
        assert history.list_athletes() == []
    assert open_store().list_names() == []


def test_a_newer_backup_is_refused(backup: Path, run: Run) -> None:
    def newer(content: bytes) -> bytes:
        return json.dumps(json.loads(content) | {"revision": "9999"}).encode()

    altered(backup, "manifest", newer)
    outcome = run("restore", str(backup))
    assert outcome.code == 3
    assert "newer flightmark" in outcome.err
    assert run("restore", "missing.zip").code == 3
    Path("no.zip").write_text("no archive")
    assert run("restore", "no.zip").code == 3


def test_an_older_backup_is_brought_up_to_date(backup: Path, run: Run) -> None:
    """Tables of the first version, as they were before sprints had one."""
    keep = {"athlete", "training_session", "clip", "result", "jump"}
    with zipfile.ZipFile(backup) as archive:
        parts = {entry: archive.read(entry) for entry in archive.namelist()}
    manifest = json.loads(parts["manifest.json"])
    rows = {}
    for name in keep:
        lines = [json.loads(line) for line in parts[f"tables/{name}.jsonl"].splitlines()]
        rows[name] = [
            {key: value for key, value in line.items()
             if key not in {"request", "request_sha256", "track_sha256"}}
            for line in lines
        ]  # fmt: skip
    manifest |= {
        "revision": "0001",
        "tables": {name: vars(measure_content([lines])) for name, lines in rows.items()},
    }
    with zipfile.ZipFile(backup, "w") as archive:
        archive.writestr("manifest.json", json.dumps(manifest))
        for name, lines in rows.items():
            archive.writestr(f"tables/{name}.jsonl", "\n".join(map(json.dumps, lines)))
    outcome = run("restore", str(backup))
    assert outcome.code == 0, outcome.err
    with open_history() as history:
        assert len(history.list_athletes()) == 5
        assert len(history.list_results("Athlete 0 Äöü 🏃")) == 1
    assert FACTS in contents(os.environ["FLIGHTMARK_DATABASE"])
