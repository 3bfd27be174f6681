"""A whole history as one file, and back into an empty database of either kind."""

from __future__ import annotations

import itertools
import json
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete
from sqlalchemy.exc import DBAPIError

from app.errors import HistoryFailed
from app.history.opening import open_empty, ready_engine, revision_of
from app.history.rows import (
    AT_ONCE,
    Content,
    Row,
    list_tables,
    measure_content,
    read_rows,
    reset_counters,
    row_as_json,
    row_from_json,
    write_rows,
)

SCHEMA = "flightmark.backup/1"
MANIFEST = "manifest.json"


@dataclass(frozen=True)
class Backup:
    """What a backup says about itself."""

    revision: str
    """Of the tables."""
    made_at: str
    tables: dict[str, Content]


def write_backup(archive: zipfile.ZipFile, *, made_at: str, url: str | None = None) -> Backup:
    """Write all tables of a history, as they are at one moment, into an archive.

    Raises
    ------
    HistoryFailed
        The history can't be read.
    """
    engine = ready_engine(url)
    if engine.dialect.name == "postgresql":
        engine = engine.execution_options(isolation_level="REPEATABLE READ")
    try:
        with _told("could not be read"), engine.connect() as connection, connection.begin():
            contents = {
                table.name: measure_content(_kept_rows(archive, connection, table))
                for table in list_tables(connection)
            }
            backup = Backup(revision_of(connection), made_at, contents)
    finally:
        engine.dispose()
    archive.writestr(MANIFEST, json.dumps(_manifest(backup), indent=1))
    return backup


def read_manifest(archive: zipfile.ZipFile) -> Backup:
    """Give what a backup says about itself.

    Raises
    ------
    HistoryFailed
        It is none.
    """
    try:
        told = json.loads(archive.read(MANIFEST))
        if told["schema"] != SCHEMA:
            raise ValueError(f"schema {told['schema']}")
        tables = {name: Content(**content) for name, content in told["tables"].items()}
        return Backup(told["revision"], told["made_at"], tables)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise HistoryFailed(
            f"The file is no backup that this flightmark knows ({error}).",
            "Give a file that flightmark backup wrote.",
        ) from error


def restore_backup(archive: zipfile.ZipFile, *, url: str | None = None) -> Backup:
    """Put a backup into an empty database: all of it, checked, or nothing.

    Raises
    ------
    HistoryFailed
        The database holds something, or the backup is damaged or of a newer flightmark.
    """
    backup = read_manifest(archive)
    with _told("could not be restored"), open_empty(url, revision=backup.revision) as connection:
        tables = list_tables(connection)
        if {table.name for table in tables} != set(backup.tables):
            raise HistoryFailed(
                "The backup holds other tables than its version has.", "It is damaged."
            )
        for table in reversed(tables):  # making the tables may have put first rows in
            connection.execute(delete(table))
        for table in tables:
            for some in _restored_rows(archive, table):
                write_rows(connection, table, some)
            if measure_content(read_rows(connection, table)) != backup.tables[table.name]:
                raise HistoryFailed(
                    f"The table {table.name} came back different.", "The backup is damaged."
                )
        reset_counters(connection, tables)
    return backup


def check_backup(archive: zipfile.ZipFile) -> Backup:
    """Restore a backup into a database that is thrown away.

    Raises
    ------
    HistoryFailed
        It doesn't come back as it was.
    """
    with tempfile.TemporaryDirectory(prefix="flightmark-") as folder:
        return restore_backup(archive, url=f"sqlite:///{Path(folder) / 'check.sqlite'}")


def _manifest(backup: Backup) -> dict[str, Any]:
    contents = {
        name: {"count": content.count, "digest": content.digest}
        for name, content in backup.tables.items()
    }
    return {
        "schema": SCHEMA, "revision": backup.revision, "made_at": backup.made_at,
        "tables": contents,
    }  # fmt: skip


def _kept_rows(
    archive: zipfile.ZipFile, connection: Connection, table: Table
) -> Iterator[list[Row]]:
    """Write rows on their way to whoever counts them."""
    with archive.open(_name(table), "w", force_zip64=True) as file:
        for some in read_rows(connection, table):
            for row in some:
                line = json.dumps(row_as_json(row), ensure_ascii=False, allow_nan=False)
                file.write(line.encode() + b"\n")
            yield some


def _restored_rows(archive: zipfile.ZipFile, table: Table) -> Iterator[list[Row]]:
    try:
        with archive.open(_name(table)) as file:
            while lines := list(itertools.islice(file, AT_ONCE)):
                yield [row_from_json(table, json.loads(line)) for line in lines]
    except (KeyError, ValueError, zipfile.BadZipFile, EOFError) as error:
        raise HistoryFailed(
            f"The table {table.name} can't be read from the backup ({error}).", "It is damaged."
        ) from error


def _name(table: Table) -> str:
    return f"tables/{table.name}.jsonl"


@contextmanager
def _told(what: str) -> Iterator[None]:
    try:
        yield
    except DBAPIError as error:
        raise HistoryFailed(
            f"The history {what} ({error.orig}).", "Nothing was changed; check the database."
        ) from error
