"""Tables as the migrations make them, and what becomes of rows that older tables held."""

from __future__ import annotations

import importlib
import pkgutil
from datetime import UTC, datetime

from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import create_engine, inspect, text

import app.history
from app.history import open_history
from app.history.desk import open_desk
from app.history.models import Base
from app.history.opening import VERSION_TABLE, _address, open_empty

BEFORE = datetime(2026, 1, 1, tzinfo=UTC)


def test_the_migrations_make_the_tables_of_the_models(url: str) -> None:
    for module in pkgutil.iter_modules(app.history.__path__):
        if module.name.endswith("models"):
            importlib.import_module(f"app.history.{module.name}")
    open_history(url).close()
    engine = create_engine(_address(url))
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
        assert compare_metadata(context, Base.metadata) == []
        foreign = {
            (key["referred_table"], key["options"].get("ondelete"))
            for table in (
                "training_session",
                "clip",
                "result",
                "jump",
                "sprint",
                "split",
                "unmeasured",
                "other_reading",
            )
            for key in inspect(connection).get_foreign_keys(table)
        }
    engine.dispose()
    owners = ("athlete", "training_session", "clip", "result", "sprint")
    assert foreign == {(table, "CASCADE") for table in owners}


def test_a_coachs_look_stays_when_it_gets_a_column_of_its_own(url: str) -> None:
    """Before, the step of a clip without numbers said that a coach had seen it."""
    steps = {"a": "seen by a coach", "b": "reading", "c": None}
    with open_empty(url, revision="0013") as connection:
        connection.execute(
            text("INSERT INTO athlete (id, name, name_key, created_at) VALUES (1, 'A', 'a', :at)"),
            {"at": "2026-03-02 18:00:00+00:00"},
        )
        for name, step in steps.items():
            connection.execute(
                text(
                    "INSERT INTO clip_job (athlete_id, clip_sha256, file_name, suffix, uploaded_at,"
                    " status, step, part, attempt) VALUES (1, :sha256, :name, '.mp4', :at,"
                    " 'refused', :step, 0.5, 1)"
                ),
                {"sha256": name * 64, "name": name, "step": step, "at": "2026-03-02 18:00:00"},
            )
    desk = open_desk(url)
    try:
        kept = {job.file_name: (job.is_seen, job.step) for job in desk.jobs.list_for(1)}
        assert kept == {"a": (True, None), "b": (False, "reading"), "c": (False, None)}
        waiting = desk.jobs.list_without_result([1], since=BEFORE)
        assert [job.file_name for job in waiting] == ["b", "c"]
        desk.jobs.mark_seen(waiting[0].job_id)
        assert [job.file_name for job in desk.jobs.list_without_result([1], since=BEFORE)] == ["c"]
        desk.jobs.measure_again(waiting[0].job_id, exercise=None)
        again = desk.jobs.find(waiting[0].job_id)
        assert again is not None
        assert not again.is_seen
    finally:
        desk.close()
