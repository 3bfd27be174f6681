"""One transaction per act, whichever table it touches."""

from __future__ import annotations

import gc
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

from sqlalchemy import Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from app.errors import HistoryFailed

TOLD_EVERY_S = 60.0
T = TypeVar("T")


class Transactions:
    """Runs acts on a database, each whole or not at all.

    Parameters
    ----------
    engine : Engine
        On a database whose tables are up to date.
    """

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._writer = engine.execution_options(sqlite_begin="IMMEDIATE")
        self._told_s = -TOLD_EVERY_S

    def read(self, act: Callable[[Session], T]) -> T:
        """Give what an act reads."""
        return self._run(self._engine, act)

    def write(self, act: Callable[[Session], T]) -> T:
        """Do an act that writes.

        Raises
        ------
        HistoryFailed
            The database refused; nothing was half written.
        """
        return self._run(self._writer, act)

    def _run(self, engine: Engine, act: Callable[[Session], T]) -> T:
        try:
            with Session(engine, expire_on_commit=False) as session, session.begin():
                return act(session)
        except DBAPIError as error:
            self._tell(str(error.orig))
            raise HistoryFailed(
                "The history can’t be reached just now.",
                "Nothing was half saved. Try again in a moment; if it stays away, tell whoever "
                "runs this.",
            ) from error

    def _tell(self, reason: str) -> None:
        """Tell whoever runs the server, now and then; visitors need not know where it is kept."""
        if time.monotonic() - self._told_s > TOLD_EVERY_S:
            self._told_s = time.monotonic()
            print(f"flightmark: the history can't be reached: {reason}", file=sys.stderr)


@contextmanager
def collecting_later() -> Iterator[None]:
    """Put off the search for cycles while many reports are read.

    They are many small values without a cycle, and these are looked at again and again.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
