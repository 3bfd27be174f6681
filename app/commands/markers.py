"""``flightmark markers``: printed squares that mark a lane where there are no cones."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from app import exits
from app.atomic import check_place
from app.commands.values import Span, number_within

MARKER_COUNT = 50
SIZE_MM = Span(30.0, 300.0, "the width of the black square in millimetres, such as 135")
PAPERS = ("a4", "a3", "letter")


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "markers",
        help="print markers for a lane",
        description="Writes markers to print, one on a page, that are found in the picture of a "
        "lane by themselves. Each has its number.",
    )
    parser.add_argument("out", type=Path, metavar="OUT.pdf", help="the file to write")
    parser.add_argument(
        "--numbers", type=_read_numbers, default=tuple(range(8)), metavar="FIRST-LAST",
        help=f"which ones, from 0 to {MARKER_COUNT - 1}; default: 0-7",
    )  # fmt: skip
    parser.add_argument("--paper", choices=PAPERS, default="a4", help="default: a4")
    parser.add_argument(
        "--size-mm", type=number_within(SIZE_MM), metavar="MM",
        help="width of the black square; default: as large as fits. In the clip it should be 20 "
        "pixels or more",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: Any = None) -> int:
    """Write the sheets, whole or not at all."""
    check_place(arguments.out)
    from app.atomic import write_whole
    from app.report.marker_sheets import largest_size_m, make_marker_sheets

    largest_m = largest_size_m(arguments.paper)
    size_m = largest_m if arguments.size_mm is None else arguments.size_mm / 1000
    if size_m > largest_m:
        print(
            f"flightmark markers: A square of {1000 * size_m:.0f} mm does not fit on "
            f"{arguments.paper}; give {int(1000 * largest_m)} mm at most, or a larger paper.",
            file=sys.stderr,
        )
        return exits.WRONG_CALL
    sheets = make_marker_sheets(arguments.numbers, size_m=size_m, paper=arguments.paper)
    write_whole(arguments.out, lambda part: part.write_bytes(sheets))
    print(f"{len(arguments.numbers)} markers, black square {1000 * size_m:.1f} mm wide, in "
          f"{arguments.out}. Print at 100 %.")  # fmt: skip
    return exits.MEASURED


def _read_numbers(text: str) -> tuple[int, ...]:
    first, _, last = text.partition("-")
    if not (first.isascii() and first.isdigit() and (last or first).isascii()
            and (last or first).isdigit()
            and int(first) <= int(last or first) < MARKER_COUNT):  # fmt: skip
        raise argparse.ArgumentTypeError(
            f"expected FIRST-LAST from 0 to {MARKER_COUNT - 1}, such as 0-7, got {text!r}"
        )
    return tuple(range(int(first), int(last or first) + 1))
