"""Many rows at once, the quick way of each database."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import String, Table, and_, cast, column, func, insert, literal, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from app.errors import HistoryFailed

KEYS_PER_QUERY = 400
"""SQLite takes no more than some thousand values in one statement."""


def insert_rows(session: Session, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that all have the same columns.

    Raises
    ------
    HistoryFailed
        PostgreSQL refused; SQLite's refusals come as SQLAlchemy's.
    """
    if rows and _is_postgresql(session):
        _copy(session, table, rows)
    elif rows:
        session.execute(insert(table), rows)


def take_ids(session: Session, table: Table, count: int) -> list[int]:
    """Give keys for new rows that nobody else will take before this transaction ends."""
    if _is_postgresql(session):
        counter = func.pg_get_serial_sequence(f'"{table.name}"', "id")
        numbers = func.generate_series(1, count).table_valued("number")
        return list(session.scalars(select(func.nextval(counter)).select_from(numbers)))
    highest = session.scalar(select(func.coalesce(func.max(table.c.id), 0))) or 0
    return list(range(highest + 1, highest + count + 1))


def find_ids(
    session: Session, table: Table, keys: Sequence[Any], *, columns: tuple[str, ...]
) -> dict[Any, int]:
    """Give the ``id`` of the rows that are there, by key: a value, or a tuple of several."""
    if not keys:
        return {}
    fields = [table.c[name] for name in columns]
    tuples = keys if len(columns) > 1 else [(key,) for key in keys]
    if _is_postgresql(session):
        asked = _as_table(fields, tuples)
        matches = [field == given for field, given in zip(fields, asked.c, strict=True)]
    else:
        asked = func.json_each(json.dumps(tuples, default=_iso)).table_valued("value")
        matches = [
            field == func.json_extract(asked.c.value, f"$[{place}]", type_=field.type)
            for place, field in enumerate(fields)
        ]
    rows = session.execute(
        select(table.c.id, *fields).select_from(asked).join(table, and_(*matches))
    )
    return {key[0] if len(key) == 1 else tuple(key): identity for identity, *key in rows}


def insert_missing(
    session: Session, model: Any, rows: dict[Any, dict[str, Any]], *, columns: tuple[str, ...]
) -> dict[Any, int]:
    """Insert the rows whose key isn't there yet, and give the ``id`` of all by key.

    Another process may make the same row at the same moment: the database lets one of them win,
    and both find it.
    """
    table: Table = model.__table__
    ids = find_ids(session, table, list(rows), columns=columns)
    missing = [key for key in rows if key not in ids]
    if missing:
        ids |= _insert(session, table, [rows[key] for key in missing], columns)
        left = [key for key in missing if key not in ids]
        ids |= find_ids(session, table, left, columns=columns)
    return ids


def _insert(
    session: Session, table: Table, rows: list[dict[str, Any]], columns: tuple[str, ...]
) -> dict[Any, int]:
    """Insert rows, and give the ``id`` of those that this made, as far as it is told."""
    if not _is_postgresql(session):
        insert_or_leave(session, table, rows)
        return {}
    made = _insert_all(table, rows).returning(table.c.id, *(table.c[name] for name in columns))
    return {
        key[0] if len(key) == 1 else tuple(key): identity
        for identity, *key in session.execute(made)
    }


def insert_or_leave(session: Session, table: Table, rows: list[dict[str, Any]]) -> None:
    """Insert rows that all have the same columns; those that are there already stay."""
    if not _is_postgresql(session):
        session.execute(sqlite.insert(table).on_conflict_do_nothing(), rows)
    else:
        session.execute(_insert_all(table, rows))


def _insert_all(table: Table, rows: list[dict[str, Any]]) -> Any:
    names = list(rows[0])
    fields = [table.c[name] for name in names]
    given = _as_table(fields, [[row[name] for name in names] for row in rows])
    return postgresql.insert(table).from_select(names, select(*given.c)).on_conflict_do_nothing()


def _as_table(fields: Sequence[Any], rows: Sequence[Sequence[Any]]) -> Any:
    """Give rows of values as a table: one parameter, however many there are."""
    names = [field.name for field in fields]
    told = json.dumps(
        [dict(zip(names, row, strict=True)) for row in rows], default=_iso,
        ensure_ascii=False,
    )  # fmt: skip
    return (
        func.json_to_recordset(cast(literal(told, String), postgresql.JSON))
        .table_valued(*(column(field.name, field.type) for field in fields))
        .render_derived(name="asked", with_types=True)
    )


def _iso(moment: date) -> str:
    return moment.isoformat()


def _copy(session: Session, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    dialect = session.get_bind().dialect
    names = list(rows[0])
    bound = [table.c[name].type.dialect_impl(dialect).bind_processor(dialect) for name in names]
    columns = ", ".join(f'"{name}"' for name in names)
    driver = session.connection().connection
    try:
        with (
            driver.cursor() as cursor,
            cursor.copy(f'COPY "{table.name}" ({columns}) FROM STDIN') as copy,
        ):
            for row in rows:
                copy.write_row([
                    row[name] if process is None else process(row[name])
                    for name, process in zip(names, bound, strict=True)
                ])  # fmt: skip
    except dialect.loaded_dbapi.Error as error:
        raise HistoryFailed(
            f"The history could not be written ({str(error).strip().splitlines()[0]}).",
            "Nothing was half saved; check the database server and try again.",
        ) from error


def _is_postgresql(session: Session) -> bool:
    return session.get_bind().dialect.name == "postgresql"
