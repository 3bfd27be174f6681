"""What the decoder keeps to itself: the playing speed that an mp4 or mov file's edit list asks for.

The edit list (``elst``) of a track names pieces of it: duration, where it starts, and a rate in
16.16 fixed point (QuickTime File Format, "Edit list atom"; ISO/IEC 14496-12, 8.6.6). The decoder
honours the first two and ignores the rate.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

LARGEST_LIST_BYTES = 1 << 20
"""A longer edit list is no phone's; it is not read."""


def read_edit_rates(path: Path) -> tuple[float, ...]:
    """Rates of the video track's edits.

    Parameters
    ----------
    path : Path
        Any file; one that is not built of boxes has no edits.

    Returns
    -------
    tuple of float
        One rate for each piece that shows pictures, in playing order; 1.0 is as recorded, 0.0
        dwells on one picture. Empty when there is no edit list.
    """
    with path.open("rb") as file:
        end = file.seek(0, 2)
        for start, stop in _boxes(file, b"moov", 0, end):
            for track in _boxes(file, b"trak", start, stop):
                if _is_video(file, *track):
                    return tuple(_rates(file, *track))
    return ()


def _boxes(file: BinaryIO, kind: bytes, start: int, stop: int) -> Iterator[tuple[int, int]]:
    """Start and end of the contents of every box of a kind directly inside a span."""
    while start + 8 <= stop:
        file.seek(start)
        size, found = struct.unpack(">I4s", file.read(8))
        header = 8
        if size == 1 and start + 16 <= stop:
            (size,) = struct.unpack(">Q", file.read(8))
            header = 16
        elif size == 0:  # to the end of the file
            size = stop - start
        if size < header or start + size > stop:
            return
        if found == kind:
            yield start + header, start + size
        start += size


def _is_video(file: BinaryIO, start: int, stop: int) -> bool:
    for media in _boxes(file, b"mdia", start, stop):
        for body, _ in _boxes(file, b"hdlr", *media):
            file.seek(body + 8)
            return file.read(4) == b"vide"
    return False


def _rates(file: BinaryIO, start: int, stop: int) -> Iterator[float]:
    for edits in _boxes(file, b"edts", start, stop):
        for body, end in _boxes(file, b"elst", *edits):
            if 8 <= end - body <= LARGEST_LIST_BYTES:
                file.seek(body)
                yield from _entries(file.read(end - body))


def _entries(table: bytes) -> Iterator[float]:
    layout = struct.Struct(">Qqi" if table[0] == 1 else ">Iii")
    (count,) = struct.unpack_from(">I", table, 4)
    room = (len(table) - 8) // layout.size
    for number in range(min(count, room)):
        _, media_time, rate = layout.unpack_from(table, 8 + number * layout.size)
        if media_time >= 0:  # -1 is a pause before the first picture
            yield rate / 65536.0
