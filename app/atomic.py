"""Write results whole or not at all: under a name of their own first, then under the asked one."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from measure.errors import OutputFailed

T = TypeVar("T")


def check_place(path: Path) -> None:
    """Make sure, before long work, that a file can be put at a path.

    Raises
    ------
    OutputFailed
        Its folder is missing or closed to us, or the path is a folder.
    """
    if path.is_dir():
        raise OutputFailed(f"{path} is a folder.", "Give the name of a file.")
    _check_parent(path)


def check_folder(folder: Path) -> None:
    """Make sure, before long work, that files can be put into a folder, made if need be.

    Raises
    ------
    OutputFailed
        It is a file, or can't be made or written to.
    """
    if folder.is_dir():
        _check_open(folder)
    elif folder.exists():
        raise OutputFailed(f"{folder} is a file.", "Give the name of a folder.")
    else:
        _check_parent(folder)


def _check_parent(path: Path) -> None:
    parent = path.absolute().parent
    if not parent.is_dir():
        raise OutputFailed(f"There is no folder {parent}.", "Make it or give another place.")
    _check_open(parent)


def _check_open(folder: Path) -> None:
    if not os.access(folder, os.W_OK | os.X_OK):
        raise OutputFailed(f"{folder} may not be written to.", "Give another place.")


def write_text(path: Path, text: str) -> None:
    """Write a text file, whole or not at all; a device or pipe is written to directly.

    Raises
    ------
    OutputFailed
        It could not be written; what stood there before stands there still.
    """

    def write(part: Path) -> None:
        with open(part, "w", encoding="utf-8", newline="") as file:
            file.write(text)

    write_whole(path, write)


def write_whole(path: Path, write: Callable[[Path], T]) -> T:
    """Have a file written whole or not at all, and give what the writer gives.

    Parameters
    ----------
    path : Path
    write : callable
        Writes to the path that it is given.

    Raises
    ------
    OutputFailed
        It could not be written; what stood there before stands there still.
    """
    target = path.resolve()
    is_special = target.exists() and not target.is_file()
    part = target if is_special else target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        written = write(part)
        if not is_special:
            os.replace(part, target)
    except OSError as error:
        raise OutputFailed(
            f"{path} could not be written ({error.strerror or error}).",
            "Free some space or give another place.",
        ) from error
    finally:
        if not is_special:
            part.unlink(missing_ok=True)
    return written
