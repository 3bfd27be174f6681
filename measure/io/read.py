"""Read a clip: what the file says about itself, and its frames with their own timestamps.

Frames are streamed, one at a time; memory does not grow with the clip. The clock is the file's
(``file_time_s``); whether it is the real one is decided elsewhere.
"""

from __future__ import annotations

from collections.abc import Collection, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

import av
import numpy as np
from numpy.typing import NDArray

from measure.errors import UnreadableClip
from measure.io.boxes import read_edit_rates
from measure.io.clip_facts import ClipStream, read_clip_stream
from measure.io.container import (
    FETCH_AGAIN,
    check_is_film,
    checked_file,
    decode_in_threads,
    file_sha256,
    file_state,
    film_stream,
    first_picture,
    open_container,
    read_packet_stamps,
)
from measure.io.frame import Frame
from measure.io.stamps import StampFacts, read_stamp_facts

__all__ = ["Clip", "ClipStream", "Frame", "StampFacts", "open_clip"]

SEEK_WORTH_S = 1.0
"""Nearer to the start than this, decoding from the start is as quick as seeking."""
SEEK_AGAIN_S = 2.0
"""How much earlier to enter the film when a key frame's leading pictures can't be decoded."""


@dataclass
class Clip:
    """An opened clip. Made by `open_clip`; every call of `frames` starts anew."""

    stream: ClipStream
    stamps: StampFacts
    """All presentation timestamps, known before anything is decoded."""
    ended_early: bool
    """The file holds fewer frames than it declares (cut off, or damaged): its end is missing.
    Complete only after `frames` has run to its end, since damage may show only there."""
    damaged_count: int = 0
    """Pictures that were lost or came out damaged in the worst pass so far."""
    _ticks: NDArray[np.int64] = field(repr=False, default_factory=lambda: np.empty(0, np.int64))
    _as_opened: tuple[int, int] = field(repr=False, default=(0, 0))
    _running: list[Generator[Frame, None, None]] = field(repr=False, default_factory=list)

    def __enter__(self) -> Clip:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file in every pass that was not run to its end."""
        while self._running:
            self._running.pop().close()

    def frames(
        self,
        *,
        from_s: float | None = None,
        until_s: float | None = None,
        wanted: Collection[int] | None = None,
    ) -> Iterator[Frame]:
        """Upright frames in presentation order, one at a time.

        Parameters
        ----------
        from_s, until_s : float, optional
            First and last file time, both included.
        wanted : collection of int, optional
            Numbers of the frames to deliver; others are decoded but not delivered.

        Yields
        ------
        Frame
            Its index is the same whichever part of the clip is asked for. Frames whose timestamp
            does not go forward are left out (``stamps.repeated_stamp_count``).

        Raises
        ------
        UnreadableClip
            When the file changed since it was opened, when nothing in the span can be decoded
            or when the picture changes its size on the way.
        """
        passing = self._pass(from_s, until_s, None if wanted is None else frozenset(wanted))
        self._running.append(passing)
        return passing

    def _pass(
        self, from_s: float | None, until_s: float | None, wanted: frozenset[int] | None
    ) -> Generator[Frame, None, None]:
        first, last = self._span(from_s, until_s, wanted)
        if first > last:
            return
        seen, size = -1, None
        with closing(self._decoded(first)) as pictures:
            for picture in pictures:
                index = self._index_of(picture)
                if index <= seen:
                    continue
                seen = index
                size = size or (picture.width, picture.height)
                if size != (picture.width, picture.height):
                    raise UnreadableClip("The picture changes its size on the way.", FETCH_AGAIN)
                if first <= index <= last and (wanted is None or index in wanted):
                    yield Frame(
                        index=index, file_time_s=float(self.stamps.file_time_s[index]),
                        rotation_deg=self.stream.rotation_deg, picture=picture,
                    )  # fmt: skip
                if index >= last:
                    break
        self._check_unchanged()
        if seen < last:
            self.ended_early = True
        if seen < first:
            raise UnreadableClip("No picture of this part of the clip can be decoded.", FETCH_AGAIN)

    def _span(
        self, from_s: float | None, until_s: float | None, wanted: frozenset[int] | None
    ) -> tuple[int, int]:
        """First and last frame number to decode."""
        times_s = self.stamps.file_time_s
        half_tick_s = self.stamps.tick_s / 2
        first, last = 0, times_s.shape[0] - 1
        if from_s is not None:
            first = int(np.searchsorted(times_s, from_s - half_tick_s))
        if until_s is not None:
            last = int(np.searchsorted(times_s, until_s + half_tick_s, side="right")) - 1
        if wanted is not None:
            first = max(first, min(wanted, default=last + 1))
            last = min(last, max(wanted, default=-1))
        return first, last

    def _index_of(self, picture: av.VideoFrame) -> int:
        if picture.pts is None:
            return -1
        return int(np.searchsorted(self._ticks, picture.pts))

    def _decoded(self, first: int) -> Generator[av.VideoFrame, None, None]:
        """Decoded pictures from number ``first`` or earlier, as far as the file allows."""
        for entry in self._entries(first):
            with closing(self._decoded_from(entry)) as pictures:
                picture = next(pictures, None)
                # Pictures shown before the key frame that they follow in the file are lost there.
                if entry is not None and (picture is None or self._index_of(picture) > first):
                    continue
                if picture is not None:
                    yield picture
                    yield from pictures
                return

    def _entries(self, first: int) -> list[int | None]:
        """Timestamps to seek to, the best first; None is the start of the file."""
        if self.stamps.file_time_s[first] <= SEEK_WORTH_S:
            return [None]
        tick = int(self._ticks[first])
        return [tick, tick - round(SEEK_AGAIN_S / self.stamps.tick_s), None]

    def _decoded_from(self, entry: int | None) -> Generator[av.VideoFrame, None, None]:
        damaged = 0
        with open_container(self.stream.path) as container:
            stream = film_stream(container)
            decode_in_threads(stream)
            if entry is not None:
                try:
                    container.seek(entry, stream=stream, backward=True)
                except av.error.FFmpegError:
                    return
            for packet in container.demux(stream):
                try:
                    pictures = packet.decode()
                except av.error.FFmpegError:
                    pictures, damaged = [], damaged + 1
                for picture in pictures:
                    if isinstance(picture, av.VideoFrame):
                        damaged += picture.is_corrupt
                        yield picture
                self.damaged_count = max(self.damaged_count, damaged)

    def _check_unchanged(self) -> None:
        if file_state(self.stream.path) != self._as_opened:
            raise UnreadableClip(
                f"{self.stream.path.name} changed while it was read: it is still being written.",
                "Wait until it is fully copied, then try again.",
            )


def open_clip(path: Path) -> Clip:
    """Open a clip and read all that is known without decoding it.

    Parameters
    ----------
    path : Path
        An mp4, mov, 3gp, mkv or webm file.

    Returns
    -------
    Clip
        A context manager; several passes over its frames may be made.

    Raises
    ------
    UnreadableClip
        When there is no such file, when it is no film, when it holds fewer than two pictures or
        when its first picture can't be decoded.
    """
    as_opened = checked_file(path)
    sha256 = file_sha256(path)
    with open_container(path) as container:
        tick_s = float(film_stream(container).time_base or 0)
        ticks, ended_early = read_packet_stamps(container)
    check_is_film(path, ticks, ended_early=ended_early)
    with open_container(path) as container:
        first = first_picture(container, path)
        stream = read_clip_stream(
            container, first, path=path, sha256=sha256, edit_rates=read_edit_rates(path)
        )
    clip = Clip(
        stream=stream,
        stamps=read_stamp_facts(ticks, tick_s=tick_s),
        ended_early=ended_early,
        _ticks=np.unique(ticks),
        _as_opened=as_opened,
    )
    clip._check_unchanged()
    return clip
