"""``flightmark history move --to URL``: the whole history to another database."""

from __future__ import annotations

import sys

from app import exits
from app.progress import ProgressLine


def move(target_url: str) -> int:
    """Move the history that the environment names, and say where it is now."""
    from app.folders import DATABASE_VARIABLE, history_url
    from app.history.moving import move_history

    with ProgressLine(sys.stderr, "move") as progress:
        counts = move_history(history_url(), target_url, told=progress)
    rows = sum(counts.values())
    print(f"{rows} rows in {len(counts)} tables moved; counts and contents are the same.")
    print(f"From now on name the new place: set {DATABASE_VARIABLE}. The old one is as it was.")
    return exits.MEASURED
