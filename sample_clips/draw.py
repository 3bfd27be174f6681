"""Draw sample clips: ``python -m sample_clips.draw OUT_FOLDER [--seed N] [--only KIND]``.

Without ``--seed`` the clips that come with the package are drawn again; with it, others that
nobody has seen.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path

from sample_clips.catalogue import ENTRIES, sample_scenario, write_schedule
from sample_clips.chance import CHOICES, draw_scenario
from sample_clips.scenario import Scenario, write_clip


def main(arguments: list[str] | None = None) -> None:
    """Read the command line and draw."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.draw", description=__doc__)
    parser.add_argument("folder", type=Path, help="where the clips are written")
    parser.add_argument("--seed", type=int, help="draw unseen clips, the first with this seed")
    parser.add_argument("--only", choices=sorted(CHOICES), help="one exercise")
    parser.add_argument("--count", type=int, default=1, help="how many of each, with --seed")
    parser.add_argument("--rate", type=float, help="capture rate, with --seed")
    wanted = parser.parse_args(arguments)
    for scenario in _scenarios(wanted):
        print(write_clip(scenario, wanted.folder), flush=True)


def _scenarios(wanted: argparse.Namespace) -> Iterator[Scenario]:
    if wanted.seed is None:
        wanted.folder.mkdir(parents=True, exist_ok=True)
        write_schedule(wanted.folder)
        for entry in ENTRIES:
            if wanted.only in (None, entry.exercise):
                yield sample_scenario(entry)
        return
    for kind in [wanted.only] if wanted.only else CHOICES:
        for number in range(wanted.count):
            yield draw_scenario(kind, wanted.seed + number, rate_hz=wanted.rate)


if __name__ == "__main__":
    main()
