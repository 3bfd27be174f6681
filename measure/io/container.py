"""Open a clip's file: checks that name what is wrong, and the facts that need no decoding."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from av.video.stream import VideoStream
from numpy.typing import NDArray

from measure.errors import UnreadableClip

# A file that calls itself a film but is a play list must not make the decoder open other files.
READ_OPTIONS = {
    "format_whitelist": "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm",
    "protocol_whitelist": "file",
}
HASH_BLOCK_BYTES = 1 << 20
DECODING_THREADS = 3
"""Each one more holds another picture. With two on two cores one of them often waits for the
thread that takes the pictures, which has more to do."""

CHOOSE_A_FILM = "Choose the video file itself (mp4 or mov) as the phone saved it."
FETCH_AGAIN = "Copy the clip from the phone again, or export it once as H.264 mp4."
FILM_IT_WHOLE = "Film the whole movement, from standing still to standing still."


def checked_file(path: Path) -> tuple[int, int]:
    """Size and time of last change of a file that can be read.

    Raises
    ------
    UnreadableClip
        When there is none, or nothing in it.
    """
    if not path.exists():
        raise UnreadableClip(f"There is no file {path}.", "Check the name and the folder.")
    if not path.is_file():
        raise UnreadableClip(f"{path} is a folder or no ordinary file.", CHOOSE_A_FILM)
    if not os.access(path, os.R_OK):
        raise UnreadableClip(f"{path.name} may not be read.", "Change the file's permissions.")
    state = file_state(path)
    if state[0] == 0:
        raise UnreadableClip(f"{path.name} is empty (0 bytes).", FETCH_AGAIN)
    return state


def file_state(path: Path) -> tuple[int, int]:
    """Size in bytes and time of last change in nanoseconds; -1 for a file that is gone."""
    try:
        found = path.stat()
    except OSError:
        return (-1, -1)
    return found.st_size, found.st_mtime_ns


def file_sha256(path: Path) -> str:
    """Hash of all bytes, hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(HASH_BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()


def open_container(path: Path) -> InputContainer:
    """Container of a film that has pictures.

    Raises
    ------
    UnreadableClip
        When it is no film, or one with sound only.
    """
    try:
        # The "file:" keeps a name with a colon in it from being taken for an address.
        container = av.open(f"file:{path.absolute()}", options=READ_OPTIONS)
    except av.error.FFmpegError as error:
        raise UnreadableClip(
            f"{path.name} is not a video that can be read, or its end is missing.",
            f"{CHOOSE_A_FILM} {FETCH_AGAIN}",
        ) from error
    if not container.streams.video:
        held = "sound but no picture" if container.streams.audio else "no picture"
        container.close()
        raise UnreadableClip(f"{path.name} holds {held}.", CHOOSE_A_FILM)
    return container


def film_stream(container: InputContainer) -> VideoStream:
    """The film among the picture streams; a file may carry a cover picture as well."""
    best = container.streams.best("video")
    return best if isinstance(best, VideoStream) else container.streams.video[0]


def decode_in_threads(stream: VideoStream) -> None:
    """Decode pictures side by side: the same pictures, sooner where a core is free."""
    stream.thread_type = "FRAME"
    stream.codec_context.thread_count = DECODING_THREADS


def read_packet_stamps(container: InputContainer) -> tuple[NDArray[np.int64], bool]:
    """Presentation timestamps of all shown frames in ticks, and whether the end is cut off."""
    stream = film_stream(container)
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


def check_is_film(path: Path, ticks: NDArray[np.int64], *, ended_early: bool) -> None:
    """Refuse a file with fewer than two pictures.

    Raises
    ------
    UnreadableClip
        Saying whether it was cut off or is a still picture.
    """
    count = np.unique(ticks).shape[0]
    if count >= 2:
        return
    held = "a single picture" if count else "no picture"
    if ended_early:
        raise UnreadableClip(f"{path.name} is cut off and holds {held}.", FETCH_AGAIN)
    raise UnreadableClip(f"{path.name} holds {held}, not a film.", FILM_IT_WHOLE)


def first_picture(container: InputContainer, path: Path) -> av.VideoFrame:
    """First picture that can be decoded.

    Raises
    ------
    UnreadableClip
        When none can.
    """
    quick = _picture_of_first_packet(container)
    if quick is not None:
        return quick
    with open_container(path) as anew:
        for packet in anew.demux(film_stream(anew)):
            try:
                for picture in packet.decode():
                    if isinstance(picture, av.VideoFrame):
                        return picture
            except av.error.FFmpegError:
                continue
    raise UnreadableClip(f"No picture of {path.name} can be decoded.", FETCH_AGAIN)


def _picture_of_first_packet(container: InputContainer) -> av.VideoFrame | None:
    """First packet's picture, which the decoder holds back for the right order unless asked."""
    stream = film_stream(container)
    packet = next(container.demux(stream), None)
    try:
        pictures = [] if packet is None else packet.decode() or stream.codec_context.decode(None)
    except av.error.FFmpegError:
        return None
    return next((one for one in pictures if isinstance(one, av.VideoFrame)), None)
