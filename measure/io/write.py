"""Write films and pictures that any browser shows, whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from fractions import Fraction
from itertools import chain
from pathlib import Path

import av
import cv2
import numpy as np
from av.container import OutputContainer
from av.video.stream import VideoStream
from numpy.typing import NDArray

from measure.errors import OutputFailed

Bytes = NDArray[np.uint8]

CLOCK_HZ = 90_000
"""Ticks of a written film's clock; the usual rates are whole numbers of them."""
ENCODER_OPTIONS = {"crf": "20", "preset": "veryfast", "bf": "0"}
"""Without B-frames no edit list is needed, which not every player honours."""
FAST_START = {"movflags": "+faststart", "video_track_timescale": str(CLOCK_HZ)}
JPEG_QUALITY = 92
BT709 = 1
LIMITED_RANGE = 1


def write_clip(path: Path, frames: Iterable[Bytes], *, times_s: Sequence[float]) -> None:
    """Write an H.264 mp4 film.

    Parameters
    ----------
    path : Path
        Where it appears once it is complete; a file already there is replaced.
    frames : iterable of ndarray of shape (H, W, 3), uint8
        RGB pictures of one size, taken one at a time. An odd last column or row is doubled,
        because the format needs even sizes.
    times_s : sequence of float
        When each picture is shown, increasing, one for each frame; the film starts at the first.

    Raises
    ------
    OutputFailed
        When the file can't be written: no space, no permission, no folder.
    ValueError
        When the times don't increase or don't match the frames.
    """
    ticks = _ticks(times_s)
    with _appearing(path) as unfinished:
        pictures = iter(frames)
        first = next(pictures, None)
        if first is None:
            raise ValueError("frames: expected at least 1, got 0")
        with av.open(str(unfinished), "w", format="mp4", options=FAST_START) as container:
            stream = _new_stream(container, first, ticks)
            for picture, tick in _paired(chain([first], pictures), ticks):
                container.mux(stream.encode(_encodable(picture, tick)))
            container.mux(stream.encode(None))


def write_picture(path: Path, rgb: Bytes) -> None:
    """Write one picture as JPEG or PNG, by the ending of its name.

    Parameters
    ----------
    path : Path
        A name ending in .jpg, .jpeg or .png; a file already there is replaced.
    rgb : ndarray of shape (H, W, 3), uint8
        The picture.

    Raises
    ------
    OutputFailed
        When the file can't be written.
    ValueError
        When the ending is another one.
    """
    ending = path.suffix.lower()
    if ending not in {".jpg", ".jpeg", ".png"}:
        raise ValueError(f"path: expected an ending of .jpg, .jpeg or .png, got {path.name}")
    quality = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY] if ending != ".png" else []
    _, code = cv2.imencode(ending, rgb[:, :, ::-1], quality)
    with _appearing(path) as unfinished:
        unfinished.write_bytes(code.tobytes())


@contextmanager
def _appearing(path: Path) -> Iterator[Path]:
    """Name to write to; its file takes the real name only when the block ends well."""
    try:
        with tempfile.TemporaryDirectory(prefix=".unfinished-", dir=path.parent) as folder:
            unfinished = Path(folder) / path.name
            yield unfinished
            os.replace(unfinished, path)
    except (OSError, av.error.FFmpegError) as error:
        raise _failed(path, error) from error


def _failed(path: Path, error: OSError | av.error.FFmpegError) -> OutputFailed:
    seen = f"{path} could not be written ({error.strerror or error})."
    if error.errno == errno.ENOSPC:
        return OutputFailed(seen, "Free some space on that disk, then try again.")
    return OutputFailed(seen, "Choose a folder that exists, has room and may be written to.")


def _ticks(times_s: Sequence[float]) -> list[int]:
    since_first = np.asarray(times_s, dtype=np.float64)
    since_first = since_first - since_first[:1]
    ticks = np.rint(since_first * CLOCK_HZ)
    if not np.all(np.isfinite(ticks)) or np.any(np.diff(ticks) <= 0):
        raise ValueError(f"times_s: expected finite and increasing, got {list(times_s)}")
    return [int(tick) for tick in ticks]


def _paired(pictures: Iterable[Bytes], ticks: list[int]) -> Iterator[tuple[Bytes, int]]:
    count = 0
    for count, picture in enumerate(pictures, start=1):
        if count > len(ticks):
            break
        yield picture, ticks[count - 1]
    if count != len(ticks):
        more = " or more" if count > len(ticks) else ""
        raise ValueError(f"times_s: expected {count}{more}, as many as frames, got {len(ticks)}")


def _new_stream(container: OutputContainer, picture: Bytes, ticks: list[int]) -> VideoStream:
    interval = float(np.median(np.diff(ticks))) if len(ticks) > 1 else CLOCK_HZ
    rate = Fraction(CLOCK_HZ / interval).limit_denominator(1001)
    stream = container.add_stream("libx264", rate=rate, options=dict(ENCODER_OPTIONS))
    height, width = picture.shape[:2]
    stream.width, stream.height = width + width % 2, height + height % 2
    stream.pix_fmt = "yuv420p"
    context = stream.codec_context
    context.time_base = Fraction(1, CLOCK_HZ)
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED_RANGE
    return stream


def _encodable(rgb: Bytes, tick: int) -> av.VideoFrame:
    height, width = rgb.shape[:2]
    if height % 2 or width % 2:
        rgb = np.pad(rgb, ((0, height % 2), (0, width % 2), (0, 0)), mode="edge")
    picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24").reformat(
        format="yuv420p", dst_colorspace="ITU709", threads=1
    )
    picture.pts, picture.time_base = tick, Fraction(1, CLOCK_HZ)
    return picture
