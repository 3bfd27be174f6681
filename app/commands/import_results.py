"""``flightmark import``: results from JSON lines, and numbers measured by other means from CSV."""

from __future__ import annotations

import argparse
import gc
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from app import exits

if TYPE_CHECKING:
    from app.history import Measured

T = TypeVar("T")
AT_ONCE = 4000
MOST_FAULTS = 20


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
    from app.history import open_history

    with open_history() as history:
        try:
            imported = history.import_results(lambda: _one_ahead(_parts(file)))
        except WrongTable as error:
            return _refuse(f"Nothing was kept of {arguments.file.name}:\n  {error}")
        history.refresh_statistics()
    print(f"{imported.new_count} new results of {imported.count}.")
    return exits.MEASURED


def _parts(file: Any) -> Iterator[list[Measured]]:
    """Give a file's results, some at a time; from the first fault on only look for others.

    Raises
    ------
    WrongTable
        At the end, or after many faults.
    """
    from app.exchange.readings import WrongTable
    from app.exchange.results import result_from_line

    file.seek(0)
    some: list[Measured] = []
    faults: list[str] = []
    for number, line in enumerate(file, start=1):
        try:
            if line.strip():
                some.append(result_from_line(line))
        except ValueError as error:
            faults.append(f"line {number}: {error}")
        if len(faults) == MOST_FAULTS:
            break
        if len(some) == AT_ONCE:
            if not faults:
                yield some
            some = []
    if faults:
        raise WrongTable("\n  ".join(faults))
    yield some


def _one_ahead(parts: Iterator[T]) -> Iterator[T]:
    """Have the next part made ready while the database is busy with this one."""
    with ThreadPoolExecutor(max_workers=1) as aside:
        coming = aside.submit(next, parts, None)
        while (part := coming.result()) is not None:
            coming = aside.submit(next, parts, None)
            yield part


def _refuse(message: str) -> int:
    print(f"flightmark import: {message}", file=sys.stderr)
    return exits.WRONG_CALL
