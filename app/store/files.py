"""Files named by their content: there whole, or not there at all."""

from __future__ import annotations

import hashlib
import io
import os
import re
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any, Literal

from app.errors import StoreFailed
from app.folders import STORE_VARIABLE, store_address
from app.store.kept import KeptFile, find_kept

Kind = Literal["clips", "tracks"]
KINDS: tuple[Kind, ...] = ("clips", "tracks")
PARTS = "parts"
"""Files that are being written; what an interruption leaves behind lies here."""
SLICE_BYTES = 4 * 2**20
SHA256 = re.compile("[0-9a-f]{64}")


def open_store(address: str | None = None) -> FileStore:
    """Open the store at an address.

    Parameters
    ----------
    address : str, optional
        A folder, or what fsspec takes for one (``s3://bucket/team``). Default: what the
        environment says, else a folder in the user's data folder.

    Returns
    -------
    FileStore

    Raises
    ------
    StoreFailed
        The address means nothing, or the package for it isn't installed.
    """
    from fsspec.core import url_to_fs

    text = address or store_address()
    try:
        system, root = url_to_fs(text)
    except (ImportError, ValueError, OSError) as error:
        raise StoreFailed(
            f"The store {text} can't be opened ({error}).",
            f"{STORE_VARIABLE} takes a folder, or an address such as s3://bucket/team.",
        ) from error
    return FileStore(text, system, root)


class FileStore:
    """An open store.

    Parameters
    ----------
    address : str
        As ``open_store`` takes it, so that another process can open the same one.
    system : AbstractFileSystem
    root : str
        Folder in it.
    """

    def __init__(self, address: str, system: Any, root: str) -> None:
        self.address = address
        self._system = system
        self._root = root.rstrip("/")

    def keep_file(self, path: Path, *, kind: Kind = "clips") -> str:
        """Keep a file and give its name, the SHA-256 of its content.

        Raises
        ------
        StoreFailed
            It can't be read or written; nothing is left under its name.
        """
        with _told(f"{path} could not be kept"), open(path, "rb") as source:
            return self._keep(source, kind)

    def keep_bytes(self, content: bytes, *, kind: Kind = "tracks") -> str:
        """Keep some bytes and give their name, the SHA-256 of them."""
        return self.keep_stream(io.BytesIO(content), kind=kind)

    def keep_stream(self, source: IO[bytes], *, kind: Kind) -> str:
        """Keep what a stream gives and give its name, the SHA-256 of its content."""
        with _told("A file could not be kept"):
            return self._keep(source, kind)

    def has(self, name: str, *, kind: Kind = "clips") -> bool:
        """Say whether a file is kept."""
        with _told(f"The store {self.address} can't be read"):
            return bool(self._system.isfile(self._place(name, kind)))

    def find(self, name: str, *, kind: Kind = "clips") -> KeptFile | None:
        """Give a file to be read in pieces, None where it isn't kept."""
        return find_kept(self._system, self._place(name, kind), is_local=self._is_local)

    def read_bytes(self, name: str, *, kind: Kind = "tracks") -> bytes:
        """Give the whole content of a file."""
        with _told(f"{name} could not be read"):
            content: bytes = self._system.cat_file(self._place(name, kind))
            return content

    @contextmanager
    def local_path(self, name: str, *, kind: Kind = "clips") -> Iterator[Path]:
        """Give a path on this machine under which a file can be read while the context lasts.

        Raises
        ------
        StoreFailed
            It isn't kept, can't be fetched, or has another content than its name says.
        """
        place = self._place(name, kind)
        if self._is_local:
            if not os.path.isfile(place):
                raise StoreFailed(f"{name} is not in the store {self.address}.", "Keep it again.")
            yield Path(place)
            return
        with tempfile.TemporaryDirectory(prefix="flightmark-") as folder:
            path = Path(folder) / name
            with _told(f"{name} could not be fetched"):
                self._fetch(place, path, name=name)
            yield path

    def list_names(self, *, kind: Kind = "clips") -> list[str]:
        """Give the names of all files of a kind."""
        with _told(f"The store {self.address} can't be read"):
            folder = f"{self._root}/{kind}"
            found = self._system.find(folder) if self._system.isdir(folder) else []
        names = (path.rsplit("/", 1)[-1] for path in found)
        return sorted(name for name in names if SHA256.fullmatch(name))

    def remove(self, name: str, *, kind: Kind = "clips") -> None:
        """Take a file away; one that isn't there is no fault."""
        with _told(f"{name} could not be removed"):
            if self._system.isfile(self._place(name, kind)):
                self._system.rm_file(self._place(name, kind))

    def sweep(self, *, before: datetime) -> int:
        """Take away what interrupted writes left behind before a moment; give their number."""
        with _told(f"The store {self.address} can't be swept"):
            folder = f"{self._root}/{PARTS}"
            parts = self._system.find(folder) if self._system.isdir(folder) else []
            stale = [part for part in parts if _written_at(self._system, part) < before]
            for part in stale:
                self._system.rm_file(part)
            return len(stale)

    @property
    def _is_local(self) -> bool:
        return "file" in _protocols(self._system)

    def _place(self, name: str, kind: Kind) -> str:
        if not SHA256.fullmatch(name):
            raise ValueError(f"name: expected 64 hexadecimal letters, got {name!r}")
        if kind not in KINDS:
            raise ValueError(f"kind: expected one of {KINDS}, got {kind!r}")
        return f"{self._root}/{kind}/{name[:2]}/{name}"

    def _keep(self, source: IO[bytes], kind: Kind) -> str:
        part = f"{self._root}/{PARTS}/{uuid.uuid4().hex}"
        self._make_folder(f"{self._root}/{PARTS}")
        try:
            with self._system.open(part, "wb") as file:
                name, size = _copy(source, file.write)
                if self._is_local:
                    file.flush()
                    os.fsync(file.fileno())
            place = self._place(name, kind)
            if not (self._system.isfile(place) and self._system.size(place) == size):
                self._make_folder(place.rsplit("/", 1)[0])
                if self._is_local:
                    os.replace(part, place)
                else:  # an object appears under its new name at once and whole
                    self._system.mv(part, place)
            return name
        finally:
            if self._system.exists(part):
                self._system.rm_file(part)

    def _make_folder(self, folder: str) -> None:
        if self._is_local:
            if not os.path.isdir(self._root):
                os.makedirs(self._root, mode=0o700)  # films of people: nobody else's business
            os.makedirs(folder, exist_ok=True)
        else:
            self._system.makedirs(folder, exist_ok=True)

    def _fetch(self, place: str, path: Path, *, name: str) -> None:
        with self._system.open(place, "rb") as source, open(path, "wb") as file:
            found, _ = _copy(source, file.write)
        if found != name:
            raise StoreFailed(
                f"{name} in the store {self.address} has another content than its name says.",
                "Remove it there and keep the clip again.",
            )


def hash_file(path: Path) -> str:
    """Give the SHA-256 of a file's content."""
    with _told(f"{path} could not be read"), open(path, "rb") as file:
        return hash_stream(file)


def hash_stream(source: IO[bytes]) -> str:
    """Give the SHA-256 of what a stream gives."""
    return _copy(source, lambda _slice: None)[0]


def _copy(source: IO[bytes], write: Callable[[bytes], Any]) -> tuple[str, int]:
    digest, size = hashlib.sha256(), 0
    while some := source.read(SLICE_BYTES):
        digest.update(some)
        write(some)
        size += len(some)
    return digest.hexdigest(), size


def _written_at(system: Any, part: str) -> datetime:
    moment: datetime = system.modified(part)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _protocols(system: Any) -> tuple[str, ...]:
    named = system.protocol
    return (named,) if isinstance(named, str) else tuple(named)


@contextmanager
def _told(what: str) -> Iterator[None]:
    try:
        yield
    except StoreFailed:
        raise
    except OSError as error:
        raise StoreFailed(
            f"{what} ({error.strerror or error}).", "Check the place, its room and its rights."
        ) from error
