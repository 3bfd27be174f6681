"""A whole history from one database to another, interruptible and checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine, Table, delete, select, tuple_
from sqlalchemy.exc import DBAPIError

from app.errors import HistoryFailed
from app.history.opening import MOVING_FROM, ready_engine
from app.history.rows import (
    FACTS,
    Row,
    count_rows,
    in_utc,
    is_empty,
    list_tables,
    measure_content,
    read_facts,
    read_rows,
    reset_counters,
    write_facts,
    write_rows,
)

Told = Callable[[str, float], None]
"""Told the table's name and the part of all rows that is there, 0 to 1."""
KEYS_PER_QUERY = 300
HISTORY_ID = "history_id"


def move_history(source_url: str, target_url: str, *, told: Told) -> dict[str, int]:
    """Copy all rows of a history and compare counts and content.

    Rows that an interrupted move has brought over already stay; those that differ are replaced.
    The source is only read, all of it as it was at one moment.

    Parameters
    ----------
    source_url, target_url : str
    told : callable

    Returns
    -------
    dict of str to int
        Rows in each table.

    Raises
    ------
    HistoryFailed
        The target holds another history, or a database can't be reached, or the contents differ.
    """
    with _engines(source_url, target_url) as (source, target), _one_moment(source) as reading:
        facts = read_facts(reading)
        is_begun = _claim(target, facts[HISTORY_ID])
        counts = {}
        with target.connect() as connection:
            tables = {table.name: table for table in list_tables(connection)}
        sources = [table for table in list_tables(reading) if table.name != FACTS]
        if is_begun:  # children before those that they point to
            for table in reversed(sources):
                told(f"looking through {table.name}", 0.0)
                _remove_outdated(reading, target, (table, tables[table.name]))
        total = max(1, sum(count_rows(reading, table) for table in sources))
        done = 0
        for table in sources:
            for count in _copy(reading, target, (table, tables[table.name])):
                done += count
                told(table.name, done / total)
        for table in reversed(sources):
            told(f"checking {table.name}", 1.0)
            counts[table.name] = _check(reading, target, (table, tables[table.name]))
        with target.begin() as connection:
            reset_counters(connection, tables.values())
            write_facts(connection, facts)
    return counts


@contextmanager
def _engines(source_url: str, target_url: str) -> Iterator[tuple[Engine, Engine]]:
    source = ready_engine(source_url)
    target = ready_engine(target_url)
    try:
        if source.url == target.url:
            raise HistoryFailed("The history is there already.", "Give another address.")
        yield source, target.execution_options(sqlite_begin="IMMEDIATE")
    except DBAPIError as error:
        raise HistoryFailed(
            f"The history could not be moved ({error.orig}).",
            "The old one is untouched. Call again to go on where it stopped.",
        ) from error
    finally:
        source.dispose()
        target.dispose()


@contextmanager
def _one_moment(source: Engine) -> Iterator[Connection]:
    if source.dialect.name == "postgresql":
        source = source.execution_options(isolation_level="REPEATABLE READ")
    with source.connect() as connection, connection.begin():
        yield connection


def _claim(target: Engine, history_id: str) -> bool:
    """Mark the target as being filled, so that nobody takes it for a whole history meanwhile.

    Gives whether a move there has begun before.
    """
    with target.begin() as connection:
        facts = read_facts(connection)
        if facts.get(MOVING_FROM) == history_id:
            return True
        if facts.get(HISTORY_ID) == history_id:
            raise HistoryFailed(
                "This history has been moved there already.",
                "Name that place in FLIGHTMARK_DATABASE.",
            )
        if MOVING_FROM in facts or not is_empty(connection):
            raise HistoryFailed(
                "There is another history at that address.", "Give an empty database."
            )
        write_facts(connection, {**facts, MOVING_FROM: history_id})
        return False


def _remove_outdated(reading: Connection, target: Engine, pair: tuple[Table, Table]) -> None:
    """Take away rows that changed or went since an interrupted move brought them over.

    All of them before anything new comes: a new row may bear the name of one that went.
    """
    source_table, target_table = pair
    with target.begin() as writing:
        for rows in read_rows(writing, target_table):
            there = _present(reading, source_table, rows)
            _remove(
                writing,
                target_table,
                [row for row in rows if there.get(_key(target_table, row)) != row],
            )


def _copy(reading: Connection, target: Engine, pair: tuple[Table, Table]) -> Iterator[int]:
    """Bring over what isn't there yet, some rows at a time; give how many there are each time."""
    source_table, target_table = pair
    for rows in read_rows(reading, source_table):
        with target.begin() as writing:
            there = _present(writing, target_table, rows)
            missing = [row for row in rows if _key(source_table, row) not in there]
            write_rows(writing, target_table, missing)
        yield len(rows)


def _present(writing: Connection, table: Table, rows: list[Row]) -> dict[tuple, Row]:
    columns = list(table.primary_key.columns)
    found: dict[tuple, Row] = {}
    for start in range(0, len(rows), KEYS_PER_QUERY):
        keys = [_key(table, row) for row in rows[start : start + KEYS_PER_QUERY]]
        where = (
            columns[0].in_([key[0] for key in keys])
            if len(columns) == 1
            else tuple_(*columns).in_(keys)
        )
        for some in _rows_where(writing, table, where):
            found[_key(table, some)] = some
    return found


def _rows_where(writing: Connection, table: Table, where: object) -> Iterator[Row]:
    narrowed = select(table).where(where).order_by(*table.primary_key.columns)  # type: ignore[arg-type]
    for row in writing.execute(narrowed).mappings():
        yield in_utc(dict(row))


def _remove(writing: Connection, table: Table, rows: list[Row]) -> None:
    for row in rows:
        key = zip(table.primary_key.columns, _key(table, row), strict=True)
        writing.execute(delete(table).where(*(column == value for column, value in key)))


def _check(reading: Connection, target: Engine, pair: tuple[Table, Table]) -> int:
    source_table, target_table = pair
    with target.connect() as connection:
        there = measure_content(read_rows(connection, target_table))
    here = measure_content(read_rows(reading, source_table))
    if here != there:
        raise HistoryFailed(
            f"The table {source_table.name} differs after the move: {here.count} rows here, "
            f"{there.count} there.",
            "Call again; the old history is untouched.",
        )
    return here.count


def _key(table: Table, row: Row) -> tuple:
    return tuple(row[column.name] for column in table.primary_key.columns)
