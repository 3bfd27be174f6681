"""Let one thread take the next things while another still works on the last ones."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Generator, Iterator
from typing import TypeVar

__all__ = ["read_ahead"]

T = TypeVar("T")


class _End:
    """After the last thing; with the error, where one ended it."""

    def __init__(self, error: BaseException | None = None) -> None:
        self.error = error


def read_ahead(things: Iterator[T], *, at_most: int) -> Generator[T, None, None]:
    """Run an iterator in a thread of its own; the same things in the same order.

    Decoding and the networks work outside Python's lock, so both go on at once.

    Parameters
    ----------
    things : iterator
        Used by the other thread alone until this iterator is closed or at its end.
    at_most : int
        How many wait to be taken: pictures fill the memory.

    Yields
    ------
    T

    Raises
    ------
    BaseException
        What the iterator raised, after the things before it.
    """
    waiting: queue.Queue[T | _End] = queue.Queue(at_most)
    stopped = threading.Event()
    reader = threading.Thread(target=_fill, args=(waiting, things, stopped), daemon=True)
    reader.start()
    try:
        while not isinstance(thing := waiting.get(), _End):
            yield thing
        if thing.error is not None:
            raise thing.error
    finally:
        stopped.set()
        with contextlib.suppress(queue.Empty):  # room for what the reader holds in its hand
            while True:
                waiting.get_nowait()
        reader.join()


def _fill(waiting: queue.Queue[T | _End], things: Iterator[T], stopped: threading.Event) -> None:
    try:
        for thing in things:
            waiting.put(thing)
            if stopped.is_set():
                return
        waiting.put(_End())
    except BaseException as error:
        waiting.put(_End(error))
