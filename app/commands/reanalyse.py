"""``flightmark reanalyse``: the history measured again by what is installed now."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app import exits
from app.commands.batch import add_workers, open_chosen
from app.commands.values import read_athlete
from app.exercises import EXERCISE_NAMES

if TYPE_CHECKING:
    from app.history import History, ResultRecord
    from app.jobs.reanalysis import Reanalysed
    from app.measuring import Measuring


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "reanalyse",
        help="measure the kept clips again and show what changes",
        description="Measures clips whose current result is of another version or setting again. "
        "Old results are kept; the new ones become current. Stopped, it goes on when it is called "
        "again.",
    )
    parser.add_argument("--athlete", type=read_athlete, metavar="NAME", help="only this one's")
    parser.add_argument(
        "--exercise", choices=EXERCISE_NAMES, metavar="KEY",
        help=f"only one of {', '.join(EXERCISE_NAMES)}",
    )  # fmt: skip
    parser.add_argument(
        "--clips", type=Path, metavar="DIR", help="where to look for clips that are not kept"
    )
    add_workers(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, measuring: Measuring | None = None) -> int:
    """Measure again what was measured by something else."""
    from app.history import open_history
    from app.jobs.reanalysis import Reanalysis
    from app.measuring import real_measuring
    from app.report.changes_text import render_reanalysed, render_reanalysis
    from app.store import open_store

    with open_history() as history:
        results = _list_results(history, arguments)
        if not results:
            print("flightmark reanalyse: Nothing of the kind is kept.", file=sys.stderr)
            return exits.NOTHING_MEASURED
        elsewhere = _find_clips(arguments.clips)
        with open_chosen(arguments) as workers:
            again = Reanalysis(history, measuring or real_measuring(), open_store(), elsewhere)
            ended: list[Reanalysed] = []
            for done in again.run(results, workers):
                ended.append(done)
                for line in render_reanalysed(done):
                    print(line, flush=True)
    print("\n".join(render_reanalysis(ended)))
    is_faulty = any(done.fate == "fault" for done in ended)
    return exits.FAULT if is_faulty else exits.MEASURED


def _list_results(history: History, arguments: argparse.Namespace) -> list[ResultRecord]:
    athletes = (
        [arguments.athlete] if arguments.athlete
        else [athlete.name for athlete in history.list_athletes()]
    )  # fmt: skip
    return [
        result
        for athlete in athletes
        for result in history.list_results(athlete, exercise=arguments.exercise)
    ]


def _find_clips(folder: Path | None) -> dict[str, Path]:
    from app.commands.batch_items import FILM_ENDINGS
    from app.store.files import hash_file

    if folder is None:
        return {}
    films = (path for path in sorted(folder.rglob("*")) if path.suffix.lower() in FILM_ENDINGS)
    return {hash_file(path): path.absolute() for path in films if path.is_file()}
