"""Where the user's data lives on this machine."""

from __future__ import annotations

import os
from pathlib import Path

FOLDER_VARIABLE = "FLIGHTMARK_DATA"
DATABASE_VARIABLE = "FLIGHTMARK_DATABASE"
STORE_VARIABLE = "FLIGHTMARK_STORE"
HISTORY_FILE = "history.sqlite"
STORE_FOLDER = "store"


def data_folder() -> Path:
    """Give the user's data folder, or the one that ``FLIGHTMARK_DATA`` names."""
    chosen = os.environ.get(FOLDER_VARIABLE)
    if chosen:
        return Path(chosen).expanduser()
    import platformdirs

    return Path(platformdirs.user_data_dir("flightmark", appauthor=False))


def sqlite_url(folder: Path) -> str:
    """Give the address of the history kept in a folder."""
    return f"sqlite:///{folder.resolve() / HISTORY_FILE}"


def history_url() -> str:
    """Give the address of the history: ``FLIGHTMARK_DATABASE``, else a file in the data folder."""
    return os.environ.get(DATABASE_VARIABLE) or sqlite_url(data_folder())


def store_address() -> str:
    """Give the place of clips and tracks: ``FLIGHTMARK_STORE``, else beside the history."""
    return os.environ.get(STORE_VARIABLE) or str((data_folder() / STORE_FOLDER).resolve())
