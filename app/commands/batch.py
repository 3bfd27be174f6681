"""``flightmark batch``: many clips measured at once, into the history."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits
from app.commands.values import read_athlete, read_date
from app.exercises import EXERCISE_NAMES

if TYPE_CHECKING:
    from app.jobs.batch import BatchItem, Ended
    from app.jobs.cluster import Workers
    from app.measuring import Measuring

EXITS = {
    "measured": exits.MEASURED,
    "present": exits.MEASURED,
    "settled": exits.NOTHING_MEASURED,
    "no_number": exits.NOTHING_MEASURED,
    "unreadable": exits.NOT_READ_OR_WRITTEN,
    "fault": exits.FAULT,
}
STALE = timedelta(days=1)


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "batch",
        help="measure many clips into the history, several at once",
        description="Measures the clips of a folder or a manifest on this machine's cores or on "
        "a cluster. What is in the history already is passed over, so a stopped batch goes on "
        "when it is called again. One bad clip never stops the rest.",
    )
    parser.add_argument(
        "source", type=Path, metavar="FOLDER|MANIFEST",
        help="folder with one folder of clips per athlete, or a CSV file with the columns file, "
        "athlete and, where known, exercise, stature_m, date, sex, capture_rate_hz, lane",
    )  # fmt: skip
    parser.add_argument(
        "--athlete", type=read_athlete, metavar="NAME", help="whose all clips of the folder are"
    )
    parser.add_argument(
        "--exercise", choices=EXERCISE_NAMES, metavar="KEY",
        help=f"for clips of which the manifest doesn't say it; one of {', '.join(EXERCISE_NAMES)}",
    )  # fmt: skip
    parser.add_argument(
        "--date", type=read_date, metavar="YYYY-MM-DD",
        help="day of training for a folder; default: when each clip was filmed, else today",
    )  # fmt: skip
    parser.add_argument(
        "--leave-clips", action="store_true",
        help="measure clips where they lie, and keep no copy of them",
    )  # fmt: skip
    add_workers(parser)
    parser.set_defaults(run=run)


def add_workers(parser: argparse.ArgumentParser) -> None:
    """Say how workers are chosen."""
    parser.add_argument(
        "--workers", type=_worker_count, metavar="N", help="on this machine; default: one per core"
    )
    parser.add_argument(
        "--scheduler", metavar="ADDRESS",
        help="measure on a cluster, such as tcp://10.0.0.5:8786, instead of on this machine",
    )  # fmt: skip


def run(arguments: argparse.Namespace, measuring: Measuring | None = None) -> int:
    """Measure what isn't measured yet; each clip is saved as soon as it is."""
    from app.commands.batch_items import WrongManifest

    try:
        items = _list_items(arguments)
    except WrongManifest as error:
        print(f"flightmark batch: {error}", file=sys.stderr)
        return exits.WRONG_CALL
    from app.history import open_history
    from app.jobs.batch import Batch
    from app.measuring import real_measuring
    from app.store import open_store

    store = None if arguments.leave_clips else open_store()
    if store is not None:
        store.sweep(before=datetime.now(UTC) - STALE)
    with open_history() as history, open_chosen(arguments) as workers:
        batch = Batch(history, measuring or real_measuring(), store)
        ends: list[Ended] = []
        for ended in batch.run(items, workers):
            ends.append(ended)
            _show(ended, number=len(ends), count=len(items))
    from app.report.batch_text import render_ends

    print("\n".join(["", *render_ends(ends)]))
    return max(EXITS[ended.end] for ended in ends)


@contextmanager
def open_chosen(arguments: argparse.Namespace) -> Iterator[Workers]:
    """Open the workers that the call asks for."""
    from app.jobs.cluster import open_workers

    with open_workers(arguments.scheduler, count=arguments.workers) as workers:
        yield workers


def _list_items(arguments: argparse.Namespace) -> list[BatchItem]:
    from app.commands.batch_items import WrongManifest, list_folder, read_manifest, with_exercise

    source: Path = arguments.source
    if source.is_dir():
        return list_folder(
            source, athlete=arguments.athlete, on_date=arguments.date, exercise=arguments.exercise
        )
    if arguments.athlete or arguments.date:
        raise WrongManifest("--athlete and --date are for a folder; a manifest says it by line.")
    return with_exercise(read_manifest(source), arguments.exercise)


def _show(ended: Ended, *, number: int, count: int) -> None:
    from app.report.batch_text import render_ended

    print(f"{number:{len(str(count))}d}/{count}  {render_ended(ended)}", flush=True)


def _worker_count(text: str) -> int:
    if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= 256:
        raise argparse.ArgumentTypeError(f"expected a number from 1 to 256, got {text!r}")
    return int(text)
