"""Many rows at once, the quick way of each database."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from datetime import date, datetime
from operator import itemgetter
from typing import Any

from sqlalchemy import String, Table, and_, cast, column, func, literal, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from app.measured import WrittenJson, write_json

KEYS_PER_QUERY = 400
"""SQLite takes no more than some thousand values in one statement."""
ROWS_PER_WRITE = 16
COPY_ESCAPES = (("\\", "\\\\"), ("\t", "\\t"), ("\n", "\\n"), ("\r", "\\r"))
"""In PostgreSQL's text form of rows; the backslash first."""


def insert_rows(session: Session, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert rows that all have the same columns.

    Raises
    ------
    IntegrityError
        One is there already, or what it points to isn't.
    """
    if rows and _is_postgresql(session):
        _copy(session, table, rows)
    elif rows:
        _insert_plainly(session, table, rows)


def take_ids(session: Session, table: Table, count: int) -> list[int]:
    """Give keys for new rows that nobody else will take before this transaction ends."""
    if _is_postgresql(session):
        counter = func.pg_get_serial_sequence(f'"{table.name}"', "id")
        numbers = func.generate_series(1, count).table_valued("number")
        taken = select(func.array_agg(func.nextval(counter))).select_from(numbers)
        return list(session.scalar(taken) or ())
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
    present, made = find_or_make(session, model, rows, columns=columns)
    return present | made


def find_or_make(
    session: Session, model: Any, rows: dict[Any, dict[str, Any]], *, columns: tuple[str, ...],
    present: dict[Any, int] | None = None,
) -> tuple[dict[Any, int], dict[Any, int]]:  # fmt: skip
    """Insert the rows whose key isn't there yet; give the ``id`` of the others and of the new.

    ``present`` are those that are known to be there, where somebody has looked already: the rest
    goes in the quick way, and another process that makes one of them meanwhile turns this back
    with an ``IntegrityError``.
    """
    table: Table = model.__table__
    if present is not None and _is_postgresql(session):
        return present, _insert_new(session, table, rows, present)
    if present is None:
        present = find_ids(session, table, list(rows), columns=columns)
    missing = [key for key in rows if key not in present]
    made = _insert(session, table, {key: rows[key] for key in missing}, columns)
    left = [key for key in missing if key not in made]
    return present | find_ids(session, table, left, columns=columns), made


def _insert_new(
    session: Session, table: Table, rows: dict[Any, dict[str, Any]], present: dict[Any, int]
) -> dict[Any, int]:
    missing = [key for key in rows if key not in present]
    made = dict(zip(missing, take_ids(session, table, len(missing)), strict=True))
    insert_rows(session, table, [{"id": made[key], **rows[key]} for key in missing])
    return made


def _insert(
    session: Session, table: Table, rows: dict[Any, dict[str, Any]], columns: tuple[str, ...]
) -> dict[Any, int]:
    """Insert rows, and give the ``id`` of those that this made and nobody else."""
    if not rows:
        return {}
    if not _is_postgresql(session):
        insert_or_leave(session, table, list(rows.values()))  # the one writer that there is
        return find_ids(session, table, list(rows), columns=columns)
    told = [table.c.id, *(table.c[name] for name in columns)]
    made = session.execute(_insert_all(table, list(rows.values())).returning(*told))
    return {key[0] if len(key) == 1 else tuple(key): identity for identity, *key in made}


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


def _insert_plainly(session: Session, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Hand rows straight to SQLite's driver, in half of SQLAlchemy's time."""
    names = list(rows[0])
    turns = _turns(session.get_bind().dialect, [table.c[name] for name in names])
    values = [list(each) for each in map(itemgetter(*names), rows)]
    for row in values:
        for place, turn in turns:
            row[place] = turn(row[place])
    columns = ", ".join(f'"{name}"' for name in names)
    places = ", ".join("?" * len(names))
    session.connection().exec_driver_sql(
        f'INSERT INTO "{table.name}" ({columns}) VALUES ({places})', list(map(tuple, values))
    )


def _turns(dialect: Any, fields: Sequence[Any]) -> list[tuple[int, Any]]:
    """Give the places of values that the driver doesn't take as they are, and what turns them."""
    turns = [field.type.dialect_impl(dialect).bind_processor(dialect) for field in fields]
    return [(place, turn) for place, turn in enumerate(turns) if turn is not None]


def _iso(moment: date) -> str:
    return moment.isoformat()


def _copy(session: Session, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    dialect = session.get_bind().dialect
    names = list(rows[0])
    columns = ", ".join(f'"{name}"' for name in names)
    driver = session.connection().connection
    try:
        with (
            driver.cursor() as cursor,
            cursor.copy(f'COPY "{table.name}" ({columns}) FROM STDIN') as copy,
        ):
            for start in range(0, len(rows), ROWS_PER_WRITE):  # the server works meanwhile
                some = rows[start : start + ROWS_PER_WRITE]
                copy.write("".join(map(_copy_line, map(itemgetter(*names), some))))
    except dialect.loaded_dbapi.Error as error:
        raise DBAPIError.instance(
            f"COPY {table.name}", None, error, dialect.loaded_dbapi.Error, dialect=dialect
        ) from error


def _copy_line(values: Iterable[Any]) -> str:
    """Give a row in the text form of COPY; this is quicker than the driver's own."""
    return "\t".join([COPIED[type(value)](value) for value in values]) + "\n"


def _copy_text(text: str) -> str:
    for letter, escaped in COPY_ESCAPES:
        if letter in text:
            text = text.replace(letter, escaped)
    return text


def _copy_json(values: dict[str, Any]) -> str:
    return _copy_text(write_json(values))


COPIED: dict[type, Callable[[Any], str]] = {
    float: repr, int: repr, bool: repr, type(None): lambda _nothing: "\\N", str: _copy_text,
    dict: _copy_json, WrittenJson: _copy_json, date: date.isoformat, datetime: datetime.isoformat,
}  # fmt: skip


def _is_postgresql(session: Session) -> bool:
    return session.get_bind().dialect.name == "postgresql"
