"""Clips, tracks and what was drawn from them into an archive and out of it, each checked."""

from __future__ import annotations

import tempfile
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from app.errors import StoreFailed
from app.store.drawn import FOLDER as DRAWN
from app.store.drawn import DrawnFiles
from app.store.files import KINDS, FileStore, Kind, hash_stream

FOLDER = "files"
Undo = Callable[[], None]


def write_files(archive: zipfile.ZipFile, store: FileStore) -> int:
    """Put all files of a store into an archive; give the number of clips and tracks."""
    count = 0
    for kind in KINDS:
        for name in store.list_names(kind=kind):
            with store.local_path(name, kind=kind) as path:
                # Film is compressed already.
                archive.write(path, f"{FOLDER}/{kind}/{name}", zipfile.ZIP_STORED)
            count += 1
    for clip in store.list_names():
        _write_drawn(archive, DrawnFiles(store), clip)
    return count


def _write_drawn(archive: zipfile.ZipFile, drawn: DrawnFiles, clip: str) -> None:
    for name in drawn.list_names(clip):
        kept = drawn.find(clip, name)
        if kept is not None:
            entry = zipfile.ZipInfo(f"{FOLDER}/{DRAWN}/{clip}/{name}")
            with archive.open(entry, "w", force_zip64=True) as file:
                for piece in kept.pieces(0, kept.size_bytes):
                    file.write(piece)


@contextmanager
def restored_files(archive: zipfile.ZipFile, store: FileStore) -> Iterator[int]:
    """Put the files of an archive into a store; give the number of clips and tracks.

    Should the context end in a fault, the store is as it was.

    Raises
    ------
    StoreFailed
        A file has another content than its name says.
    """
    undo: list[Undo] = []
    try:
        yield sum(_restore(archive, entry, store, undo) for entry in _entries(archive))
    except BaseException:
        for each in undo:
            each()
        raise


def check_files(archive: zipfile.ZipFile) -> int:
    """Read all files of an archive again and compare each with its name; give their number.

    Raises
    ------
    StoreFailed
        One has another content than its name says.
    """
    entries = _entries(archive)
    for entry in entries:
        with archive.open(entry) as source:  # reading to the end compares the check sum
            found = hash_stream(source)
        if not _is_drawn(entry) and found != entry.rsplit("/", 1)[1]:
            raise StoreFailed(f"{entry} was changed while it was read.", "Try again.")
    return len(entries)


def _entries(archive: zipfile.ZipFile) -> list[str]:
    return [entry for entry in archive.namelist() if entry.startswith(f"{FOLDER}/")]


def _is_drawn(entry: str) -> bool:
    return entry.startswith(f"{FOLDER}/{DRAWN}/")


def _restore(archive: zipfile.ZipFile, entry: str, store: FileStore, undo: list[Undo]) -> bool:
    """Restore one file, and note how to take it away; give whether it is a clip or track."""
    try:
        with archive.open(entry) as source:
            if _is_drawn(entry):
                _restore_drawn(source, entry, DrawnFiles(store), undo)
                return False
            _restore_kept(source, entry, store, undo)
            return True
    except (zipfile.BadZipFile, EOFError, ValueError) as error:
        raise StoreFailed(f"{entry} in the backup is damaged.", "Use another backup.") from error


def _restore_kept(source: IO[bytes], entry: str, store: FileStore, undo: list[Undo]) -> None:
    _, word, name = entry.split("/")
    kind = _kind(word)
    if store.has(name, kind=kind):
        return
    found = store.keep_stream(source, kind=kind)
    undo.append(lambda: store.remove(found, kind=kind))
    if found != name:
        raise ValueError(f"content: expected {name}, got {found}")


def _restore_drawn(source: IO[bytes], entry: str, drawn: DrawnFiles, undo: list[Undo]) -> None:
    _, _, clip, name = entry.split("/")
    if drawn.find(clip, name) is not None:
        return
    with tempfile.TemporaryDirectory(prefix="flightmark-") as folder:
        path = Path(folder) / "drawn"
        with open(path, "wb") as file:
            while some := source.read(1 << 20):
                file.write(some)
        undo.append(lambda: drawn.remove(clip))
        drawn.keep_file(clip, name, path)


def _kind(word: str) -> Kind:
    for kind in KINDS:
        if kind == word:
            return kind
    raise ValueError(f"kind: expected one of {KINDS}, got {word!r}")
