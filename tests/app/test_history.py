"""The history on every database it may live in: add an address to ``history_url`` for one more."""

from __future__ import annotations

import dataclasses
import sqlite3
import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect, text

from app.errors import HistoryFailed
from app.history import History, open_history
from app.history.mapping import JUMP_COLUMNS
from app.history.models import Base
from app.history.opening import VERSION_TABLE
from measure.report import LandingReport, as_json
from tests.app.reports import a_jump, a_refusal, a_report

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
MONDAY = date(2026, 3, 2)


@pytest.fixture(params=["sqlite"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    return {"sqlite": f"sqlite:///{tmp_path / 'deep' / 'history.sqlite'}"}[request.param]


@pytest.fixture
def history(url: str) -> Iterator[History]:
    with open_history(url) as opened:
        yield opened


def save(history: History, report, *, athlete="Mika Orlov", on_date=MONDAY, **more):
    return history.save_result(
        report, athlete=athlete, on_date=on_date, clip_name="a.mp4",
        saved_at=more.pop("saved_at", NOW), **more,
    )  # fmt: skip


def test_what_is_saved_is_what_is_listed(history: History) -> None:
    jump = a_jump(
        rsi_mps=1.5, rsi_sigma_mps=0.1, turn_deg=-90.0, take_off_side="left",
        landing=LandingReport(knee_flexion_peak_deg={"left": 80.0}, extra_step=False),
    )  # fmt: skip
    report = a_report(jump, a_jump())
    saved = save(history, report, stature_m=1.72)
    listed = history.list_results("mika  ORLOV")
    assert listed == [saved]
    assert saved.jumps == report.jumps
    assert saved.report == as_json(report)
    assert saved.recorded_at == datetime(2026, 3, 2, 17, 5, tzinfo=UTC)
    assert saved.created_at == NOW
    assert [(a.name, a.stature_m, a.clip_count) for a in history.list_athletes()] == [
        ("Mika Orlov", 1.72, 1)
    ]


def test_moments_are_kept_in_utc(history: History) -> None:
    evening = datetime(2026, 3, 2, 23, 30, tzinfo=timezone(timedelta(hours=-5)))
    save(history, a_report(a_jump()), saved_at=evening)
    (kept,) = history.list_results("Mika Orlov")
    assert kept.created_at == evening
    assert kept.created_at.utcoffset() == timedelta(0)
    with pytest.raises(ValueError, match="with its zone"):
        save(history, a_report(a_jump(), content="2"), saved_at=datetime(2026, 3, 2))


def test_the_same_clip_twice_is_one_clip(history: History) -> None:
    first = save(history, a_report(a_jump()))
    again = save(history, a_report(a_jump()), on_date=date(2026, 3, 9))
    assert again == first
    assert history.list_athletes()[0].clip_count == 1
    save(history, a_report(a_jump()), athlete="Ada Brandt")
    assert [a.clip_count for a in history.list_athletes()] == [1, 1]


def test_a_new_analysis_is_current_and_the_old_one_stays(history: History) -> None:
    save(history, a_report(a_jump(), exercise="vertical"))
    better = a_report(a_jump(height_m=0.31), exercise="approach_jump")
    save(history, better, saved_at=NOW + timedelta(days=1))
    (current,) = history.list_results("Mika Orlov")
    assert current.jumps[0].height_m == 0.31
    assert len(history.list_results("Mika Orlov", superseded=True)) == 2
    assert history.list_results("Mika Orlov", exercise="vertical") == []
    assert history.list_results("Mika Orlov", exercise="approach_jump") == [current]


def test_results_come_by_day(history: History) -> None:
    days = [date(2026, 3, 16), date(2026, 3, 2), date(2026, 3, 9)]
    for number, day in enumerate(days):
        save(history, a_report(a_jump(), content=str(number)), on_date=day)
    assert [r.on_date for r in history.list_results("Mika Orlov")] == sorted(days)
    assert history.list_results("Nobody") == []


@pytest.mark.parametrize("name", ["", "   ", "x" * 101, "bell\x07"])
def test_a_name_must_be_a_name(history: History, name: str) -> None:
    with pytest.raises(ValueError, match="athlete: expected a name"):
        save(history, a_report(a_jump()), athlete=name)
    assert history.list_athletes() == []


def test_a_save_that_fails_leaves_nothing(history: History) -> None:
    broken = a_report(a_jump(take_off_side=None))
    with pytest.raises(HistoryFailed):
        save(history, broken)
    assert history.list_athletes() == []


def test_a_report_with_no_number_for_a_number_is_not_kept(history: History) -> None:
    with pytest.raises(Exception, match="JSON compliant"):
        save(history, a_report(a_jump(height_com_m=float("nan"))))
    assert history.list_athletes() == []


def test_two_writers_at_once_lose_nothing_and_double_nothing(url: str) -> None:
    open_history(url).close()

    def write(start: int) -> None:
        with open_history(url) as own:
            for number in range(start, start + 10):
                save(own, a_report(a_jump(), content=str(number)))

    threads = [threading.Thread(target=write, args=(start,)) for start in (0, 5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_history(url) as history:
        assert len(history.list_results("Mika Orlov", superseded=True)) == 15
        assert history.list_athletes()[0].clip_count == 15


def test_the_migrations_make_the_tables_of_the_models(url: str) -> None:
    open_history(url).close()
    engine = create_engine(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, Base.metadata) == []
        foreign = {
            (key["referred_table"], key["options"].get("ondelete"))
            for table in ("training_session", "clip", "result", "jump")
            for key in inspect(connection).get_foreign_keys(table)
        }
    engine.dispose()
    assert foreign == {
        (table, "CASCADE") for table in ("athlete", "training_session", "clip", "result")
    }


def test_jump_columns_are_named_as_in_the_report() -> None:
    fields = {field.name for field in dataclasses.fields(a_jump())} - {"landing"}
    assert set(JUMP_COLUMNS) == fields
    assert fields <= set(Base.metadata.tables["jump"].columns.keys())


def test_a_newer_history_is_left_alone(url: str) -> None:
    open_history(url).close()
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text(f"UPDATE {VERSION_TABLE} SET version_num = '9999'"))
    engine.dispose()
    with pytest.raises(HistoryFailed, match=r"newer flightmark.*9999"):
        open_history(url)


def test_deleting_an_athlete_deletes_all_that_is_theirs(url: str, history: History) -> None:
    save(history, a_report(a_jump()))
    with history._writer.begin() as connection:
        connection.execute(text("DELETE FROM athlete"))
        left = [connection.scalar(text(f"SELECT count(*) FROM {table}"))
                for table in ("training_session", "clip", "result", "jump")]  # fmt: skip
    assert left == [0, 0, 0, 0]


def test_a_file_that_is_no_history_is_refused_and_untouched(tmp_path: Path) -> None:
    path = tmp_path / "letters.sqlite"
    path.write_text("Dear history, I am not a database. " * 50)
    before = path.read_bytes()
    with pytest.raises(HistoryFailed, match="can't be opened"):
        open_history(f"sqlite:///{path}")
    assert path.read_bytes() == before


def test_somebody_elses_database_is_refused_and_untouched(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE result (mine TEXT)")
    other.commit()
    other.close()
    with pytest.raises(HistoryFailed, match="already exists"):
        open_history(f"sqlite:///{path}")
    other = sqlite3.connect(path)
    assert other.execute("SELECT name FROM sqlite_master").fetchall() == [("result",)]
    other.close()


def test_a_place_that_is_no_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(HistoryFailed, match="can't be opened"):
        open_history(f"sqlite:///{tmp_path / 'file' / 'history.sqlite'}")


@pytest.mark.parametrize("address", ["nonsense", "nosuch://here/there"])
def test_an_address_that_means_nothing_is_refused(address: str) -> None:
    with pytest.raises(HistoryFailed, match="address of the history"):
        open_history(address)


def test_a_full_disk_keeps_what_was_there(tmp_path: Path) -> None:
    large = a_report(a_jump(), content="2", exercise=None, refusals=(a_refusal("x" * 1_000_000),))
    with open_history(f"sqlite:///{tmp_path / 'history.sqlite'}") as history:
        kept = save(history, a_report(a_jump()))
        with history._writer.connect() as connection:  # the pool gives this one out again
            connection.exec_driver_sql("PRAGMA max_page_count = 60")
        with pytest.raises(HistoryFailed, match="full"):
            save(history, large, athlete="Ada Brandt")
        assert [each.name for each in history.list_athletes()] == ["Mika Orlov"]
        assert history.list_results("Mika Orlov") == [kept]
