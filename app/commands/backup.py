"""``flightmark backup``: the whole history, with clips and tracks, as one checked file."""

from __future__ import annotations

import argparse
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from app import exits


def add_command(commands: Any) -> None:
    """Say how the command is called."""
    parser = commands.add_parser(
        "backup",
        help="write the whole history into one file",
        description="Writes all tables, clips and body tracks into one file, and restores it into "
        "a passing database to see that it comes back as it was. The file holds films of people: "
        "keep it safe.",
    )
    parser.add_argument("file", type=Path, metavar="FILE.zip", help="where to")
    parser.add_argument(
        "--without-files", action="store_true", help="only the tables, no clips and tracks"
    )
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace, _measuring: object = None) -> int:
    """Write one file, whole and checked or not at all."""
    from app.atomic import check_place, write_whole

    check_place(arguments.file)
    said = write_whole(arguments.file, lambda part: _write(part, arguments.without_files))
    print(f"{said} in {arguments.file}, restored once to check it.")
    return exits.MEASURED


def _write(part: Path, is_without_files: bool) -> str:
    from app.history.backup import check_backup, write_backup
    from app.store import open_store
    from app.store.archive import check_files, write_files

    part.touch(mode=0o600)
    with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=3) as archive:
        backup = write_backup(archive, made_at=datetime.now(UTC).isoformat())
        files = 0 if is_without_files else write_files(archive, open_store())
    with zipfile.ZipFile(part) as archive:
        check_backup(archive)
        check_files(archive)
    rows = sum(content.count for content in backup.tables.values())
    return f"{rows} rows and {files} clips and tracks"
