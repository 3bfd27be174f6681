"""``flightmark import``: results from JSON lines, and numbers measured by other means from CSV."""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits

if TYPE_CHECKING:
    from app.history import Measured

LARGE_BYTES = 5_000_000
"""From here on a second process gains more than starting it takes."""


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "import",
        help="read exported results, or numbers measured by other means",
        description="A .jsonl file holds results as flightmark export writes them. A .csv file "
        "holds heights and times by stopwatch, tape, mat and the like: they are kept apart from "
        "results and never enter a trend of them. The same file twice adds nothing.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help=".jsonl or .csv")
    parser.add_argument(
        "--method", metavar="WORD",
        help="how the numbers of a CSV file were measured, where its lines don't say it",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: object = None) -> int:
    """Keep what is in the file: all of it, or nothing."""
    if arguments.file.suffix not in {".csv", ".jsonl"}:
        return _refuse("expected a file that ends in .csv or .jsonl")
    if arguments.method and arguments.file.suffix != ".csv":
        return _refuse("--method is for CSV files; results say themselves how they were measured")
    try:
        with open(arguments.file, encoding="utf-8-sig", newline="") as file:
            read = _import_readings if arguments.file.suffix == ".csv" else _import_results
            return read(file, arguments)
    except UnicodeDecodeError:
        told = f"{arguments.file} is no text in UTF-8. Save it as CSV UTF-8 and import that."
        print(f"flightmark import: {told}", file=sys.stderr)
        return exits.NOT_READ_OR_WRITTEN
    except OSError as error:
        print(f"flightmark import: {arguments.file} can't be read ({error}).", file=sys.stderr)
        return exits.NOT_READ_OR_WRITTEN


def _import_readings(file: Any, arguments: argparse.Namespace) -> int:
    from app.exchange.readings import WrongTable, read_readings
    from app.history import open_history

    try:
        readings = read_readings(file, method=arguments.method)
    except WrongTable as error:
        return _refuse(f"Nothing was kept of {arguments.file.name}:\n  {error}")
    with open_history() as history:
        new = history.save_readings(readings, imported_at=datetime.now(UTC))
    methods = ", ".join(sorted({reading.method for reading in readings}))
    print(f"{new} new numbers of {len(readings)}, by {methods}; kept apart from results.")
    return exits.MEASURED


def _import_results(file: Any, arguments: argparse.Namespace) -> int:
    gc.disable()  # a million small values hold no cycles; looking for them takes a fifth longer
    try:
        return _check_and_keep(file, arguments)
    finally:
        gc.enable()


def _check_and_keep(file: Any, arguments: argparse.Namespace) -> int:
    from app.exchange.readings import WrongTable

    with _reading(file, arguments.file) as read:
        from app.history import open_history  # which takes a while, as starting to read does

        with open_history() as history:
            try:
                imported = history.import_results(read)
            except WrongTable as error:
                return _refuse(f"Nothing was kept of {arguments.file.name}:\n  {error}")
            history.refresh_statistics(new_count=imported.new_count)
    print(f"{imported.new_count} new results of {imported.count}.")
    return exits.MEASURED


@contextmanager
def _reading(file: Any, path: Path) -> Iterator[Callable[[], Iterator[list[Measured]]]]:
    """Give what reads a file's results, some at a time; a large one is read by another process."""
    from app.exchange.aside import reading_aside
    from app.exchange.results import read_results

    if path.stat().st_size >= LARGE_BYTES:
        with reading_aside(path) as read:
            yield read
    else:
        yield lambda: read_results(_from_start(file))


def _from_start(file: Any) -> Any:
    file.seek(0)
    return file


def _refuse(message: str) -> int:
    print(f"flightmark import: {message}", file=sys.stderr)
    return exits.WRONG_CALL
