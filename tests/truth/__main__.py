"""All truth tables in one go: ``python -m tests.truth [FOLDER] [--jobs N]``.

The folder holds drawn clips with their truth files; beside the checkout it is ``../shared/clips``.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.truth import jumps, landing, sprint

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "clips"


def main() -> int:
    """Run every comparison on one folder.

    Returns
    -------
    int
        0 where there is nothing beside the checkout to compare with; 1 for a folder that was
        named and holds no clips, and where a sprint was not measured.
    """
    parser = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, help="default: beside the checkout")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    asked = parser.parse_args()
    folder, jobs = asked.folder or BESIDE, str(asked.jobs)
    if not any(folder.glob("*.mp4")):
        print(f"Nothing was compared: no clips with truth in {folder}.")
        print("Name a folder: python -m tests.truth FOLDER")
        return 0 if asked.folder is None else 1
    print("JUMPS")
    jumps.main([str(folder), "--jobs", jobs])
    print("\nLANDINGS")
    sys.argv = ["landing", str(folder), "--jobs", jobs]
    landing.main()
    print("\nSPRINTS")
    return min(sprint.main(folder), 1)


if __name__ == "__main__":
    sys.exit(main())
