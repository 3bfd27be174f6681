"""Clips and tracks into an archive and out of it, each checked against its name."""

from __future__ import annotations

import zipfile

from app.errors import StoreFailed
from app.store.files import KINDS, FileStore, Kind, hash_stream

FOLDER = "files"


def write_files(archive: zipfile.ZipFile, store: FileStore) -> int:
    """Put all files of a store into an archive; give their number."""
    count = 0
    for kind in KINDS:
        for name in store.list_names(kind=kind):
            with store.local_path(name, kind=kind) as path:
                # Film is compressed already.
                archive.write(path, f"{FOLDER}/{kind}/{name}", zipfile.ZIP_STORED)
            count += 1
    return count


def restore_files(archive: zipfile.ZipFile, store: FileStore) -> int:
    """Put the files of an archive into a store; give their number.

    Raises
    ------
    StoreFailed
        One has another content than its name says.
    """
    entries = [entry for entry in archive.namelist() if entry.startswith(f"{FOLDER}/")]
    for entry in entries:
        try:
            _, kind, name = entry.split("/")
            with archive.open(entry) as source:
                is_whole = store.keep_stream(source, kind=_kind(kind)) == name
        except (zipfile.BadZipFile, EOFError, ValueError):
            is_whole = False
        if not is_whole:
            raise StoreFailed(f"{entry} in the backup is damaged.", "Use another backup.")
    return len(entries)


def check_files(archive: zipfile.ZipFile) -> int:
    """Read all files of an archive again and compare each with its name; give their number.

    Raises
    ------
    StoreFailed
        One has another content than its name says.
    """
    entries = [entry for entry in archive.namelist() if entry.startswith(f"{FOLDER}/")]
    for entry in entries:
        with archive.open(entry) as source:
            if hash_stream(source) != entry.rsplit("/", 1)[1]:
                raise StoreFailed(f"{entry} was changed while it was read.", "Try again.")
    return len(entries)


def _kind(word: str) -> Kind:
    for kind in KINDS:
        if kind == word:
            return kind
    raise ValueError(f"kind: expected one of {KINDS}, got {word!r}")
