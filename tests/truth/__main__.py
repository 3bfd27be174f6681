"""All truth tables in one go: ``python -m tests.truth [FOLDER]``.

The folder holds drawn clips with their truth files; beside the checkout it is ``../shared/clips``.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tests.truth import jumps, landing, sprint

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "clips"


def main() -> int:
    """Run every comparison on one folder."""
    parser = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, default=BESIDE)
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    asked = parser.parse_args()
    if not any(asked.folder.glob("*.mp4")):
        print("No clips with truth there. Name a folder: python -m tests.truth FOLDER")
        return 1
    print("JUMPS")
    jumps.main([str(asked.folder), "--jobs", str(asked.jobs)])
    print("\nLANDINGS")
    sys.argv = ["landing", str(asked.folder), "--jobs", str(asked.jobs)]
    landing.main()
    print("\nSPRINTS")
    return sprint.main(asked.folder)


if __name__ == "__main__":
    sys.exit(main())
