"""All tables of a history as plain rows, whatever is in them: to copy, to keep, to compare.

Tables are read from the database itself, so that every table comes along, and those of an older
flightmark too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    Connection,
    Date,
    DateTime,
    MetaData,
    Table,
    delete,
    func,
    insert,
    select,
    text,
    tuple_,
)

VERSION_TABLE = "flightmark_schema"
FACTS = "history_fact"
AT_ONCE = 1000

Row = dict[str, Any]


@dataclass(frozen=True)
class Content:
    """How much a table holds, and what."""

    count: int
    digest: str
    """The same for the same rows, in whatever order."""


def list_tables(connection: Connection) -> list[Table]:
    """Give the tables, each after those that it points to."""
    found = MetaData()
    found.reflect(connection)
    tables = [table for table in found.sorted_tables if table.name != VERSION_TABLE]
    for table in tables:
        for column in table.columns:
            if isinstance(column.type, JSON):
                column.type.none_as_null = True
    return tables


def read_rows(connection: Connection, table: Table) -> Iterator[list[Row]]:
    """Give all rows in order of their key, some at a time; moments are in UTC."""
    key = list(table.primary_key.columns)
    query = select(table).order_by(*key).limit(AT_ONCE)
    some = [dict(row) for row in connection.execute(query).mappings()]
    while some:
        # A query for each part instead of one that stays open: readers may stop half-way.
        last = [some[-1][column.name] for column in key]
        yield [in_utc(row) for row in some]
        after = key[0] > last[0] if len(key) == 1 else tuple_(*key) > tuple_(*last)
        some = [dict(row) for row in connection.execute(query.where(after)).mappings()]


def write_rows(connection: Connection, table: Table, rows: list[Row]) -> None:
    """Put rows into a table."""
    if rows:
        connection.execute(insert(table), rows)


def measure_content(rows: Iterable[list[Row]]) -> Content:
    """Count rows and sum up what they hold."""
    count, total = 0, 0
    for some in rows:
        count += len(some)
        for row in some:
            line = json.dumps(row_as_json(row), sort_keys=True, allow_nan=False)
            total += int.from_bytes(hashlib.sha256(line.encode()).digest(), "big")
    return Content(count, f"{total % 2**256:064x}")


def row_as_json(row: Row) -> Row:
    """Give a row in JSON values."""
    return {
        name: value.isoformat() if isinstance(value, date) else value for name, value in row.items()
    }


def row_from_json(table: Table, row: Row) -> Row:
    """Give a row from JSON values, by the kinds of its columns."""
    return {name: _value(table.columns[name].type, value) for name, value in row.items()}


def count_rows(connection: Connection, table: Table) -> int:
    """Give how many rows a table has."""
    return connection.scalar(select(func.count()).select_from(table)) or 0


def is_empty(connection: Connection) -> bool:
    """Say whether no table holds anything but what each history knows about itself."""
    return not any(
        count_rows(connection, table) for table in list_tables(connection) if table.name != FACTS
    )


def read_facts(connection: Connection) -> dict[str, str]:
    """Give what the history knows about itself; nothing where it is older than such facts."""
    tables = {table.name: table for table in list_tables(connection)}
    if FACTS not in tables:
        return {}
    facts = tables[FACTS]
    return {name: value for name, value in connection.execute(select(facts.c.name, facts.c.value))}


def write_facts(connection: Connection, facts: dict[str, str]) -> None:
    """Put these in the place of what the history knows about itself."""
    table = next(table for table in list_tables(connection) if table.name == FACTS)
    connection.execute(delete(table))
    write_rows(connection, table, [{"name": name, "value": value} for name, value in facts.items()])


def reset_counters(connection: Connection, tables: Iterable[Table]) -> None:
    """Have new rows numbered after the highest key there is; SQLite does that by itself."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables:
        for column in table.primary_key.columns:
            name = connection.scalar(
                select(func.pg_get_serial_sequence(f'"{table.name}"', column.name))
            )
            highest = None if name is None else connection.scalar(select(func.max(column)))
            if highest is not None:
                connection.execute(text("SELECT setval(:name, :highest)"),
                                   {"name": name, "highest": highest})  # fmt: skip


def in_utc(row: Row) -> Row:
    """Give a row with all its moments in UTC (SQLite keeps no zone)."""
    return {name: _moment(value) for name, value in row.items()}


def _moment(value: Any) -> Any:
    if not isinstance(value, datetime):
        return value
    return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _value(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, DateTime):
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if isinstance(kind, Date) else value
