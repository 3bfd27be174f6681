"""Results of a large file read in a process of its own, while the database is busy with others.

``python -m app.exchange.aside FILE`` writes to standard output what it reads, some results at a
time and pickled; then None, or the error that it ended with. It is one part ahead: the next one is
ready when this one is saved.
"""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from app.errors import HistoryFailed
from app.exchange.results import read_results

if TYPE_CHECKING:
    from app.measured import Measured

CALL = ("-P", "-m", "app.exchange.aside")
ENCODING = "utf-8-sig"


@contextmanager
def reading_aside(path: Path) -> Iterator[Callable[[], Iterator[list[Measured]]]]:
    """Start to read a file, and give what gives its results as often as it is called.

    That raises WrongTable, UnicodeDecodeError and OSError as ``read_results`` in this process
    would, and HistoryFailed where the other process died.
    """
    waiting = [_start(path)]

    def read() -> Iterator[list[Measured]]:
        with waiting.pop() if waiting else _start(path) as process:
            yield from _receive(process)

    try:
        yield read
    finally:
        for process in waiting:
            with process:
                process.kill()


def _start(path: Path) -> subprocess.Popen[bytes]:
    call = [sys.executable, *CALL, str(path.absolute())]
    places = os.pathsep.join(place for place in sys.path if place)
    return subprocess.Popen(
        call, stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": places}
    )


def _receive(process: subprocess.Popen[bytes]) -> Iterator[list[Measured]]:
    with ThreadPoolExecutor(1) as ahead:  # takes the next part while this one is saved
        try:
            coming = ahead.submit(pickle.load, process.stdout)
            while (part := coming.result()) is not None:
                if isinstance(part, Exception):
                    raise part
                coming = ahead.submit(pickle.load, process.stdout)
                yield part
        except (EOFError, pickle.UnpicklingError):
            raise HistoryFailed(
                "Reading the file broke off.", "Nothing was kept of it; import it again."
            ) from None
        finally:
            process.kill()  # where nobody wants the rest


def main() -> None:
    """Read the file that is named, and write its results."""
    gc.disable()  # many small values hold no cycles; looking for them takes long
    try:
        with open(sys.argv[1], encoding=ENCODING, newline="") as file:
            for part in read_results(file):
                _write(part)
        _write(None)
    except BrokenPipeError:
        os._exit(1)  # whoever asked is gone
    except Exception as error:
        _write(error)


def _write(part: object) -> None:
    pickle.dump(part, sys.stdout.buffer, protocol=pickle.HIGHEST_PROTOCOL)
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
