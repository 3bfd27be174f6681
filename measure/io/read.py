"""Read a clip: what the file says about itself, and its frames with their own timestamps.

Frames are streamed, one at a time; memory does not grow with the clip. The clock is the file's
(``file_time_s``); whether it is the real one is decided elsewhere.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType

import av
import numpy as np
from av.video.reformatter import VideoReformatter
from av.video.stream import VideoStream
from numpy.typing import NDArray

from measure.errors import UnreadableClip
from measure.io.boxes import read_edit_rates
from measure.io.clip_facts import ClipStream, read_clip_stream
from measure.io.frame import Frame
from measure.io.stamps import StampFacts, read_stamp_facts

__all__ = ["Clip", "ClipStream", "Frame", "StampFacts", "open_clip"]

# A file that calls itself a film but is a play list must not make the decoder open other files.
READ_OPTIONS = {
    "format_whitelist": "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm",
    "protocol_whitelist": "file",
}
SEEK_WORTH_S = 1.0
"""Nearer to the start than this, decoding from the start is as quick as seeking."""
HASH_BLOCK_BYTES = 1 << 20

NOT_A_FILM = "Choose the video file itself (mp4 or mov) as the phone saved it."
FILM_AGAIN = "Copy the clip from the phone again, or export it once as H.264 mp4."


@dataclass
class Clip:
    """An opened clip. Made by `open_clip`; every call of `frames` starts anew."""

    stream: ClipStream
    stamps: StampFacts
    """All presentation timestamps, known before anything is decoded."""
    ended_early: bool
    """The file holds fewer frames than it declares (cut off, or damaged): its end is missing.
    Complete only after `frames` has run to its end, since damage may show only there."""
    damaged_packet_count: int = 0
    """Pieces of the file that could not be decoded in the longest pass so far."""
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
        reformatter, seen, size = VideoReformatter(), -1, None
        with closing(self._decoded(first)) as pictures:
            for picture in pictures:
                index = self._index_of(picture)
                if index <= seen:
                    continue
                seen = index
                size = size or (picture.width, picture.height)
                if size != (picture.width, picture.height):
                    raise UnreadableClip("The picture changes its size on the way.", FILM_AGAIN)
                if first <= index <= last and (wanted is None or index in wanted):
                    yield Frame(
                        index=index, file_time_s=float(self.stamps.file_time_s[index]),
                        rotation_deg=self.stream.rotation_deg, picture=picture,
                        reformatter=reformatter,
                    )  # fmt: skip
                if index >= last:
                    break
        self._check_unchanged()
        if seen < last:
            self.ended_early = True
        if seen < first:
            raise UnreadableClip("No picture of this part of the clip can be decoded.", FILM_AGAIN)

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
        """Decoded pictures from the start, or from a key frame before ``first``."""
        damaged = 0
        with _open_container(self.stream.path) as container:
            stream = container.streams.video[0]
            if self.stamps.file_time_s[first] > SEEK_WORTH_S:
                container.seek(int(self._ticks[first]), stream=stream, backward=True)
            for packet in container.demux(stream):
                try:
                    yield from packet.decode()
                except av.error.FFmpegError:
                    damaged += 1
                    self.damaged_packet_count = max(self.damaged_packet_count, damaged)

    def _check_unchanged(self) -> None:
        if _size_and_change(self.stream.path) != self._as_opened:
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
    as_opened = _checked_file(path)
    sha256 = _sha256(path)
    with _open_container(path) as container:
        video = _video_stream(container, path)
        tick_s = float(video.time_base or 0)
        ticks, ended_early = _packet_stamps(container, video)
    if np.unique(ticks).shape[0] < 2:
        raise UnreadableClip(
            f"{path.name} holds {np.unique(ticks).shape[0] or 'no'} picture"
            f"{'' if ticks.size else 's'}, not a film.",
            "Film the whole movement, from standing still to standing still.",
        )
    with _open_container(path) as container:
        first = _first_picture(container, path)
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


def _size_and_change(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return (-1, -1)
    return found.st_size, found.st_mtime_ns


def _checked_file(path: Path) -> tuple[int, int]:
    if not path.exists():
        raise UnreadableClip(f"There is no file {path}.", "Check the name and the folder.")
    if not path.is_file():
        raise UnreadableClip(f"{path} is a folder or no ordinary file.", NOT_A_FILM)
    if not os.access(path, os.R_OK):
        raise UnreadableClip(f"{path.name} may not be read.", "Change the file's permissions.")
    as_opened = _size_and_change(path)
    if as_opened[0] == 0:
        raise UnreadableClip(f"{path.name} is empty (0 bytes).", FILM_AGAIN)
    return as_opened


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(HASH_BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()


def _open_container(path: Path) -> av.container.InputContainer:
    try:
        # The "file:" keeps a name with a colon in it from being taken for an address.
        return av.open(f"file:{path.absolute()}", options=READ_OPTIONS)
    except av.error.FFmpegError as error:
        raise UnreadableClip(
            f"{path.name} is not a video that can be read, or its end is missing.",
            f"{NOT_A_FILM} {FILM_AGAIN}",
        ) from error


def _video_stream(container: av.container.InputContainer, path: Path) -> VideoStream:
    if not container.streams.video:
        what = "sound but no picture" if container.streams.audio else "no picture"
        raise UnreadableClip(f"{path.name} holds {what}.", NOT_A_FILM)
    return container.streams.video[0]


def _packet_stamps(
    container: av.container.InputContainer, stream: VideoStream
) -> tuple[NDArray[np.int64], bool]:
    """Presentation timestamps of all shown frames, and whether the end is cut off."""
    ticks: list[int] = []
    found, cut_off = 0, False
    try:
        for packet in container.demux(stream):
            if packet.size:
                found += 1
                cut_off = cut_off or packet.is_corrupt
                if packet.pts is not None and not packet.is_discard:
                    ticks.append(packet.pts)
    except av.error.FFmpegError:
        cut_off = True
    return np.array(ticks, dtype=np.int64), cut_off or found < stream.frames


def _first_picture(container: av.container.InputContainer, path: Path) -> av.VideoFrame:
    stream = container.streams.video[0]
    for packet in container.demux(stream):
        try:
            for picture in packet.decode():
                return picture
        except av.error.FFmpegError:
            continue
    raise UnreadableClip(f"No picture of {path.name} can be decoded.", FILM_AGAIN)
