"""Open a history: reach its database, and bring its tables up to date or say why not."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import orjson
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, create_engine, event, make_url, select
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError

from app.errors import HistoryFailed
from app.folders import DATABASE_VARIABLE, history_url
from app.history.models import HistoryFact
from app.history.rows import VERSION_TABLE, is_empty, list_tables
from app.history.store import History
from app.measured import write_json

MOVING_FROM = "moving_from"
"""Fact of a history that is still being moved here: where it comes from."""
BUSY_TIMEOUT_S = 30.0
CONNECT_TIMEOUT_S = 10
OPENING_LOCK = 7021101
"""Any number of our own: PostgreSQL's advisory locks are known by number."""
MIGRATIONS = Path(__file__).parent / "migrations"


def open_history(url: str | None = None) -> History:
    """Open the history at an address, made or brought up to date where needed.

    Parameters
    ----------
    url : str, optional
        SQLAlchemy database address. Default: what the environment says, else a file in the
        user's data folder.

    Returns
    -------
    History

    Raises
    ------
    HistoryFailed
        The address makes no sense, the database can't be reached, or a newer flightmark has
        already changed its tables.
    """
    engine = ready_engine(url)
    with engine.connect() as connection:
        is_half = connection.scalar(
            select(HistoryFact.value).where(HistoryFact.name == MOVING_FROM)
        )
    if is_half:
        shown = _shown(engine.url)
        engine.dispose()
        raise HistoryFailed(
            f"The history at {shown} is only half there: moving it was interrupted.",
            "Call flightmark history move again, from where it comes.",
        )
    return History(engine)


def ready_engine(url: str | None = None) -> Engine:
    """Give the engine of a history whose tables are up to date, whole or half moved."""
    address = _address(url or history_url())
    with telling(address):
        _make_folder(address)
        _bring_up_to_date(address)
    return _engine(address, foreign_keys=True)


@contextmanager
def open_empty(url: str | None, *, revision: str) -> Iterator[Connection]:
    """Give a database without rows whose tables are of some revision, in one transaction.

    When the context ends well, the tables are brought up to date and all of it counts; else
    nothing does.

    Raises
    ------
    HistoryFailed
        The database holds something, or the revision is of a newer flightmark.
    """
    address = _address(url or history_url())
    with telling(address):
        _make_folder(address)
        engine = _engine(address, foreign_keys=False).execution_options(sqlite_begin="IMMEDIATE")
    try:
        with telling(address), engine.begin() as connection:
            _lock(connection)
            _clear(connection, address)
            _check_known(revision, address)
            command.upgrade(_config(connection), revision)
            yield connection
            command.upgrade(_config(connection), "head")
            _check_owners(connection, address)
    finally:
        engine.dispose()


def revision_of(connection: Connection) -> str:
    """Give the revision of a history's tables."""
    context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
    return str(context.get_current_revision())


def _clear(connection: Connection, address: URL) -> None:
    """Take away tables without rows, so that others can be made."""
    if not is_empty(connection):
        raise HistoryFailed(
            f"The history at {_shown(address)} is not empty.",
            f"Restore into a new one: name another place in {DATABASE_VARIABLE}.",
        )
    for table in reversed(list_tables(connection)):
        table.drop(connection)
    connection.exec_driver_sql(f"DROP TABLE IF EXISTS {VERSION_TABLE}")


@contextmanager
def telling(address: URL) -> Iterator[None]:
    """Turn what a database says into words of ours."""
    try:
        yield
    except (DBAPIError, OSError) as error:
        raise HistoryFailed(
            f"The history at {_shown(address)} can't be opened ({_first_line(error)}).",
            f"Check that the place exists, has room and may be written; {DATABASE_VARIABLE} "
            "names another one.",
        ) from error


def _address(text: str) -> URL:
    try:
        address = _with_driver(make_url(text))
        address.get_dialect().import_dbapi()
    except ModuleNotFoundError as error:
        raise HistoryFailed(
            f"The history needs the package {error.name}, which isn't installed.",
            "For PostgreSQL install flightmark[postgres].",
        ) from error
    except (ArgumentError, NoSuchModuleError) as error:
        raise HistoryFailed(
            "The address of the history is not one that a database driver here understands.",
            f"Give {DATABASE_VARIABLE} as, for example, sqlite:////home/me/history.sqlite.",
        ) from error
    return address


def _with_driver(address: URL) -> URL:
    """Name the one PostgreSQL driver that is used, however short the address is."""
    plain = {"postgres", "postgresql"}
    return address.set(drivername="postgresql+psycopg") if address.drivername in plain else address


def _make_folder(address: URL) -> None:
    if _is_file(address):
        Path(str(address.database)).parent.mkdir(parents=True, exist_ok=True)


def _is_file(address: URL) -> bool:
    return address.get_backend_name() == "sqlite" and address.database not in (None, "", ":memory:")


def _bring_up_to_date(address: URL) -> None:
    # Rebuilding a table in SQLite drops the old one, and with foreign keys on that would delete
    # every row that points to it: migrations run without, and are checked before they count.
    engine = _engine(address, foreign_keys=False)
    try:
        with engine.connect() as connection:
            is_current = _is_current(connection, address)
        if not is_current:
            with engine.execution_options(sqlite_begin="IMMEDIATE").begin() as connection:
                _upgrade(connection, address)
    finally:
        engine.dispose()


def _is_current(connection: Connection, address: URL) -> bool:
    context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
    present = context.get_current_revision()
    if present is not None:
        _check_known(present, address)
    return present == _scripts().get_current_head()


def _check_known(revision: str, address: URL) -> None:
    if revision not in {item.revision for item in _scripts().walk_revisions()}:
        raise HistoryFailed(
            f"The history at {_shown(address)} was written by a newer flightmark "
            f"(its tables are of version {revision}).",
            "Bring flightmark up to date on this machine; nothing was changed.",
        )


def _scripts() -> ScriptDirectory:
    return ScriptDirectory.from_config(_config(None))


def _upgrade(connection: Connection, address: URL) -> None:
    _lock(connection)
    # Someone else may have upgraded while this process waited for its turn to write.
    if _is_current(connection, address):
        return
    command.upgrade(_config(connection), "head")
    _check_owners(connection, address)


def _lock(connection: Connection) -> None:
    """Let one process at a time make the tables; SQLite has one writer anyway."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({OPENING_LOCK})")


def _check_owners(connection: Connection, address: URL) -> None:
    if connection.dialect.name == "sqlite":
        orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
        if orphans:
            raise HistoryFailed(
                f"Bringing the history at {_shown(address)} up to date would have left "
                f"{len(orphans)} rows without an owner.",
                "Nothing was changed; please report this.",
            )


def _config(connection: Connection | None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    config.attributes["version_table"] = VERSION_TABLE
    return config


def _engine(address: URL, *, foreign_keys: bool) -> Engine:
    is_sqlite = address.get_backend_name() == "sqlite"
    engine = create_engine(
        address,
        json_serializer=write_json,
        json_deserializer=orjson.loads,  # whole reports by the hundred: the pages wait for it
        connect_args=(
            {"timeout": BUSY_TIMEOUT_S} if is_sqlite else {"connect_timeout": CONNECT_TIMEOUT_S}
        ),
        pool_pre_ping=not is_sqlite,
    )
    if is_sqlite:
        _prepare_sqlite(engine, foreign_keys=foreign_keys)
    return engine


def _prepare_sqlite(engine: Engine, *, foreign_keys: bool) -> None:
    """Make SQLite keep references, wait its turn, and hold table changes in transactions too."""

    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # the driver's own BEGIN leaves table changes outside
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA cache_size=-65536")
        connection.execute(f"PRAGMA foreign_keys={'ON' if foreign_keys else 'OFF'}")

    @event.listens_for(engine, "begin")
    def on_begin(connection: Connection) -> None:
        # A reader that later wants to write can't wait its turn: writers say so at the start.
        kind = connection.get_execution_options().get("sqlite_begin", "DEFERRED")
        connection.exec_driver_sql(f"BEGIN {kind}")


def _shown(address: URL) -> str:
    return str(address.database) if _is_file(address) else address.render_as_string()


def _first_line(error: BaseException) -> str:
    cause = error.orig if isinstance(error, DBAPIError) and error.orig else error
    return (str(cause).strip() or type(cause).__name__).splitlines()[0]
