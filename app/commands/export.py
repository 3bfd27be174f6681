"""``flightmark export``: the history as CSV, Parquet or JSON lines."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits
from app.commands.values import read_athlete

if TYPE_CHECKING:
    from app.exchange.tables import Table
    from app.history import History

ENDINGS = (".csv", ".parquet", ".jsonl")
KINDS = ("jumps", "splits", "readings")


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "export",
        help="write the history to CSV, Parquet or JSON lines",
        description="Writes current results; numbers are in SI units, which end the columns' "
        "names. JSON lines hold whole reports, old results too, and can be imported again.",
    )
    parser.add_argument(
        "file", type=_read_file, metavar="FILE", help="ends in .csv, .parquet or .jsonl"
    )
    parser.add_argument(
        "--athlete", type=read_athlete, action="append", metavar="NAME",
        help="only this one's; can be given several times",
    )  # fmt: skip
    parser.add_argument(
        "--what", choices=KINDS, default="jumps",
        help="jumps (default), splits of sprints, or readings by other means",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: object = None) -> int:
    """Write one file, whole or not at all."""
    from app.atomic import check_place, write_whole
    from app.history import open_history

    file: Path = arguments.file
    check_place(file)
    with open_history() as history:
        athletes = _athletes(history, arguments)
        if athletes is None:
            return exits.NOTHING_MEASURED
        count = write_whole(file, lambda part: _write(history, athletes, arguments, part))
    print(f"{count} {'lines' if file.suffix == '.jsonl' else arguments.what} in {file}.")
    return exits.MEASURED


def _athletes(history: History, arguments: argparse.Namespace) -> list[str] | None:
    known = {athlete.name for athlete in history.list_athletes()}
    if arguments.athlete is None:
        return sorted(known)
    found = [history.find_athlete(name) for name in arguments.athlete]
    for name, athlete in zip(arguments.athlete, found, strict=True):
        if athlete is None:
            print(f"flightmark export: There is no athlete {name}.", file=sys.stderr)
            return None
    return [athlete.name for athlete in found if athlete is not None]


def _write(history: History, athletes: list[str], arguments: argparse.Namespace, part: Path) -> int:
    from app.exchange.tables import TABLES

    table = TABLES[arguments.what]
    if arguments.file.suffix == ".jsonl":
        return _write_lines(history, athletes, part)
    rows = (row for athlete in athletes for row in table.rows(history, athlete))
    if arguments.file.suffix == ".parquet":
        from app.exchange.parquet import write_parquet

        return write_parquet(part, table.columns, rows)
    return _write_csv(part, table, rows)


def _write_csv(part: Path, table: Table, rows: Iterator[tuple[Any, ...]]) -> int:
    import csv

    with open(part, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(table.columns)
        count = 0
        for row in rows:
            writer.writerow(row)
            count += 1
    return count


def _write_lines(history: History, athletes: list[str], part: Path) -> int:
    from app.exchange.results import line_from_result

    count = 0
    with open(part, "w", encoding="utf-8", newline="\n") as file:
        for athlete in athletes:
            known = history.find_athlete(athlete)
            for result in history.list_results(athlete, superseded=True):
                file.write(line_from_result(result, stature_m=known and known.stature_m) + "\n")
                count += 1
    return count


def _read_file(text: str) -> Path:
    path = Path(text)
    if path.suffix not in ENDINGS:
        raise argparse.ArgumentTypeError(
            f"expected a name that ends in {', '.join(ENDINGS)}, got {text!r}"
        )
    return path
