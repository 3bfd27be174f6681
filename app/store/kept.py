"""A kept file to be read in pieces, wherever the store is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.errors import StoreFailed

PIECE_BYTES = 1 << 20


@dataclass(frozen=True)
class KeptFile:
    """One file of a store."""

    system: Any
    place: str
    size_bytes: int
    local_path: Path | None
    """Where it lies on this machine; None in an object store."""

    def read(self, start: int = 0, end: int | None = None) -> bytes:
        """Give the bytes from ``start`` up to, not including, ``end``."""
        try:
            content: bytes = self.system.cat_file(self.place, start=start, end=end)
        except OSError as error:
            raise StoreFailed(f"A file could not be read ({error}).", "Try again.") from error
        return content

    def pieces(self, start: int, end: int) -> Iterator[bytes]:
        """Give the bytes from ``start`` up to ``end``, a little at a time."""
        for at in range(start, end, PIECE_BYTES):
            yield self.read(at, min(at + PIECE_BYTES, end))


def find_kept(system: Any, place: str, *, is_local: bool) -> KeptFile | None:
    """Give the file at a place, None where there is none."""
    try:
        if not system.isfile(place):
            return None
        return KeptFile(system, place, int(system.size(place)), Path(place) if is_local else None)
    except OSError as error:
        raise StoreFailed(f"The store can't be read ({error}).", "Try again.") from error
