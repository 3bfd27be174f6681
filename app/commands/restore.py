"""``flightmark restore``: a backup into an empty history."""

from __future__ import annotations

import argparse
import sys
import zipfile
from pathlib import Path
from typing import Any

from app import exits


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "restore",
        help="put a backup into an empty history",
        description="Puts what flightmark backup wrote into the history and the store that the "
        "environment names: all of it, compared with what was written, or nothing. The history "
        "must be empty; SQLite or PostgreSQL makes no difference.",
    )
    parser.add_argument("file", type=Path, metavar="FILE.zip", help="the backup")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: object = None) -> int:
    """Restore one backup."""
    from app.history.backup import restore_backup
    from app.store import open_store
    from app.store.archive import restored_files

    try:
        # Files first: a history that is there has its clips.
        with (
            zipfile.ZipFile(arguments.file) as archive,
            restored_files(archive, open_store()) as files,
        ):
            backup = restore_backup(archive)
    except (OSError, zipfile.BadZipFile) as error:
        print(f"flightmark restore: {arguments.file} can't be read ({error}).", file=sys.stderr)
        return exits.NOT_READ_OR_WRITTEN
    rows = sum(content.count for content in backup.tables.values())
    print(f"{rows} rows and {files} clips and tracks restored, as of {backup.made_at}.")
    return exits.MEASURED
