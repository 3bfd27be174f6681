"""What was made from clips: files with names, one folder per clip, in the store of the clips."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import uuid
from contextlib import suppress
from pathlib import Path
from typing import Any

from fsspec.core import url_to_fs

from app.errors import StoreFailed
from app.store.files import SHA256, FileStore
from app.store.kept import KeptFile, find_kept

FOLDER = "drawn"
NAME = re.compile(r"[a-z0-9_]+\.[a-z0-9]+")


class DrawnFiles:
    """Named files that belong to clips.

    Parameters
    ----------
    store : FileStore
        The one that keeps the clips.
    """

    def __init__(self, store: FileStore) -> None:
        self._system: Any
        self._system, root = url_to_fs(store.address)
        self._root = f"{root.rstrip('/')}/{FOLDER}"
        self._is_local = os.path.isdir(root) or "file" in str(self._system.protocol)

    def keep_file(self, clip_sha256: str, name: str, path: Path) -> None:
        """Keep a file of a clip under a name; it is there whole, or not at all.

        Raises
        ------
        StoreFailed
            It could not be written.
        """
        place = self._place(clip_sha256, name)
        folder = place.rsplit("/", 1)[0]
        part = f"{folder}/.{uuid.uuid4().hex}"
        try:
            self._system.makedirs(folder, exist_ok=True)
            if not self._is_local:  # an object appears at once and whole
                self._system.put_file(str(path), place)
                return
            shutil.copyfile(path, part)
            os.replace(part, place)
        except OSError as error:
            with suppress(OSError):
                self._system.rm_file(part)
            raise StoreFailed(f"{name} could not be kept ({error}).", "Free some room.") from error

    def keep_bytes(self, clip_sha256: str, name: str, content: bytes) -> None:
        """Keep some bytes as a file of a clip."""
        with tempfile.NamedTemporaryFile(prefix="flightmark-") as file:
            file.write(content)
            file.flush()
            self.keep_file(clip_sha256, name, Path(file.name))

    def find(self, clip_sha256: str, name: str) -> KeptFile | None:
        """Give a file of a clip, None where there is none."""
        if not NAME.fullmatch(name):
            return None
        return find_kept(self._system, self._place(clip_sha256, name), is_local=self._is_local)

    def list_names(self, clip_sha256: str) -> list[str]:
        """Give the names of a clip's files."""
        folder = self._folder(clip_sha256)
        try:
            found = self._system.ls(folder, detail=False) if self._system.isdir(folder) else []
        except OSError as error:
            raise StoreFailed(f"The store can't be read ({error}).", "Try again.") from error
        names = (str(path).rsplit("/", 1)[-1] for path in found)
        return sorted(name for name in names if NAME.fullmatch(name))

    def remove_file(self, clip_sha256: str, name: str) -> None:
        """Take away one file of a clip, where it is there."""
        try:
            self._system.rm_file(self._place(clip_sha256, name))
        except FileNotFoundError:
            return
        except OSError as error:
            raise StoreFailed(f"{name} could not be removed ({error}).", "Try again.") from error

    def remove(self, clip_sha256: str) -> None:
        """Take away every file of a clip."""
        folder = self._folder(clip_sha256)
        try:
            if self._system.isdir(folder):
                self._system.rm(folder, recursive=True)
        except OSError as error:
            raise StoreFailed(f"Files could not be removed ({error}).", "Try again.") from error

    def _folder(self, clip_sha256: str) -> str:
        if not SHA256.fullmatch(clip_sha256):
            raise ValueError(f"clip_sha256: expected 64 hexadecimal letters, got {clip_sha256!r}")
        return f"{self._root}/{clip_sha256[:2]}/{clip_sha256}"

    def _place(self, clip_sha256: str, name: str) -> str:
        if not NAME.fullmatch(name):
            raise ValueError(f"name: expected letters with an ending, got {name!r}")
        return f"{self._folder(clip_sha256)}/{name}"
