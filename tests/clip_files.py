"""Small films with known contents, written with PyAV and, where it can't, patched byte by byte.

Every builder writes one file and returns its path, so a test reads as a sentence::

    path = write_film(folder / "a.mp4", moving_square(60), ticks=even_ticks(60, 240))
    set_rotation(path, 90)

Times are in ticks of `CLOCK_HZ`, which the usual frame rates divide.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

CLOCK_HZ = 90_000
CAPTURE_RATE_KEY = "com.android.capture.fps"
SQUARE_PX = 32
SPEED_PX = 4
GROUND_RGB = (70, 110, 60)
SQUARE_RGB = (230, 60, 40)


# --- pictures ---


def square_left_px(number: int, *, width: int = 320) -> int:
    """Left edge of the square in picture ``number`` of `moving_square`."""
    return 8 + SPEED_PX * number % (width - SQUARE_PX - 16)


def moving_square(count: int, *, width: int = 320, height: int = 240) -> Iterator[Bytes]:
    """Pictures (H, W, 3) of a red square that moves right by 4 px each time and starts over.

    Its top edge is at ``height // 4``; the ground is green with a lighter patch in the top left
    corner, by which a turned picture can be told.
    """
    for number in range(count):
        picture = np.empty((height, width, 3), np.uint8)
        picture[:] = GROUND_RGB
        picture[: height // 8, : width // 8] = (240, 240, 200)
        left, top = square_left_px(number, width=width), height // 4
        picture[top : top + SQUARE_PX, left : left + SQUARE_PX] = SQUARE_RGB
        yield picture


def square_centre_px(rgb: Bytes) -> tuple[float, float]:
    """Centre (x, y) of the red square in edge-based pixels of a picture as shown."""
    red = rgb[..., 0].astype(int) - rgb[..., 1]
    weight = np.clip(red - 60, 0, None).astype(float)
    y, x = np.indices(weight.shape) + 0.5
    return float(np.average(x, weights=weight)), float(np.average(y, weights=weight))


def coloured_noise(count: int, *, width: int, height: int, seed: int = 1) -> Iterator[Bytes]:
    """Smooth random colours with fine grain: exercises every part of colour conversion."""
    random = np.random.default_rng(seed)
    for _ in range(count):
        coarse = random.integers(0, 256, (height // 8 + 2, width // 8 + 2, 3)).astype(np.uint8)
        picture = np.kron(coarse, np.ones((8, 8, 1), np.uint8))[:height, :width]
        grain = random.integers(-12, 13, picture.shape)
        yield np.clip(picture + grain, 0, 255).astype(np.uint8)


# --- stamps ---


def even_ticks(count: int, rate_hz: float) -> list[int]:
    """Timestamps of a constant rate."""
    return [round(number * CLOCK_HZ / rate_hz) for number in range(count)]


# --- files ---


def write_film(
    path: Path,
    pictures: Iterable[Bytes],
    *,
    ticks: Sequence[int],
    codec: str = "libx264",
    pixel_format: str = "yuv420p",
    b_frames: int = 0,
    tags: dict[str, str] | None = None,
    matrix: str | None = None,
    full_range: bool = False,
    fast_start: bool = False,
    clock_hz: int = CLOCK_HZ,
    encoder: dict[str, str] | None = None,
) -> Path:
    """Write a film; by default its index (moov) comes last, so that patches may lengthen it.

    ``tags`` become container metadata, as phones write them. ``matrix`` is "ITU709" or "ITU601",
    None leaves the colours undeclared. ``encoder`` adds options of the codec.
    """
    options = {"video_track_timescale": str(clock_hz)} if path.suffix != ".webm" else {}
    flags = ["use_metadata_tags"] * bool(tags) + ["faststart"] * fast_start
    if flags:
        options["movflags"] = "+".join(flags)
    with av.open(str(path), "w", options=options) as container:
        container.metadata.update(tags or {})
        stream = None
        for picture, tick in zip(pictures, ticks, strict=True):
            if stream is None:
                rate = Fraction(clock_hz, max(ticks[-1] // max(len(ticks) - 1, 1), 1))
                settings = _encoder_options(codec) | (encoder or {})
                stream = container.add_stream(codec, rate=rate, options=settings)
                stream.height, stream.width = picture.shape[:2]
                stream.pix_fmt = pixel_format
                context = stream.codec_context
                context.time_base = Fraction(1, clock_hz)
                context.max_b_frames = b_frames
                context.colorspace = {None: 2, "ITU709": 1, "ITU601": 6}[matrix]
                context.color_range = 2 if full_range else 1
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(
                format=pixel_format, dst_colorspace=matrix,
                dst_color_range="JPEG" if full_range else "MPEG",
            )  # fmt: skip
            frame.pts, frame.time_base = tick, Fraction(1, clock_hz)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _encoder_options(codec: str) -> dict[str, str]:
    if codec == "libx265":
        return {
            "preset": "ultrafast",
            "crf": "12",
            "x265-params": "log-level=none:pools=1:frame-threads=1",
        }
    if codec == "libvpx-vp9":
        return {"deadline": "realtime", "cpu-used": "8", "crf": "20", "b": "0"}
    return {"preset": "veryfast", "crf": "12", "threads": "1"}


def write_sound(path: Path) -> Path:
    """A film file with sound and no picture."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=16_000)
        stream.layout = "mono"
        for number in range(8):
            sound = av.AudioFrame.from_ndarray(
                np.zeros((1, 1024), np.float32), format="fltp", layout="mono"
            )
            sound.rate, sound.pts = 16_000, number * 1024
            container.mux(stream.encode(sound))
        container.mux(stream.encode(None))
    return path


# --- patches ---


def find_box(data: bytes | bytearray, *kinds: str) -> tuple[int, int]:
    """Start (of the header) and end of the box reached by a path of kinds, first of each."""
    start, stop = 0, len(data)
    for depth, kind in enumerate(kinds):
        position = start if depth == 0 else start + 8
        while position < stop:
            size, found = struct.unpack_from(">I4s", data, position)
            if found == kind.encode():
                start, stop = position, position + size
                break
            position += size
        else:
            raise LookupError(f"no box {'/'.join(kinds[: depth + 1])}")
    return start, stop


def set_rotation(path: Path, clockwise_deg: int, *, mirrored: bool = False) -> Path:
    """Ask for a clockwise turn in the track header's matrix, as a phone held upright does.

    ``mirrored`` asks for left and right to be exchanged before that.
    """
    turns = {
        0: (1, 0, 0, 1), 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0),
    }  # fmt: skip
    a, b, c, d = (value * 0x10000 for value in turns[clockwise_deg])
    if mirrored:
        a, b = -a, -b
    data = bytearray(path.read_bytes())
    start, _ = find_box(data, "moov", "trak", "tkhd")
    assert data[start + 8] == 0, "only version 0 of the track header is patched"
    struct.pack_into(">9i", data, start + 48, a, b, 0, c, d, 0, 0, 0, 0x40000000)
    path.write_bytes(data)
    return path


def set_edits(path: Path, entries: Sequence[tuple[int, int, float]]) -> Path:
    """Replace the edit list; an entry is (duration in ms, first tick or -1, rate).

    The file's index must come last, since it may grow.
    """
    table = b"".join(
        struct.pack(">Iii", duration_ms, first, round(rate * 65536))
        for duration_ms, first, rate in entries
    )
    edit_list = _box("elst", struct.pack(">II", 0, len(entries)) + table)
    data = bytearray(path.read_bytes())
    found = find_box(data, "moov", "trak", "edts")
    return _replace(path, data, ("moov", "trak"), found, _box("edts", edit_list))


def drop_edits(path: Path) -> Path:
    """Take the edit list out."""
    data = bytearray(path.read_bytes())
    return _replace(path, data, ("moov", "trak"), find_box(data, "moov", "trak", "edts"), b"")


def repeat_stamp(path: Path) -> Path:
    """Give the third frame the timestamp of the second; the film's first two intervals differ."""
    data = bytearray(path.read_bytes())
    start, _ = find_box(data, "moov", "trak", "mdia", "minf", "stbl", "stts")
    runs = struct.unpack_from(">4I", data, start + 16)
    assert (runs[0], runs[2]) == (1, 1), "each of the first two intervals must be its own run"
    struct.pack_into(">I", data, start + 28, 0)
    path.write_bytes(data)
    return path


def add_capture_rate(path: Path, rate_hz: float) -> Path:
    """Write the capture rate as phones do: an mdta key with a 4-byte float (type 23).

    Only for a film written without ``tags``: a second table of keys is not read.
    """
    key = CAPTURE_RATE_KEY.encode()
    meta = _box(
        "meta",
        _box("hdlr", bytes(8) + b"mdta" + bytes(13))
        + _box("keys", struct.pack(">II", 0, 1) + _box("mdta", key))
        + _box(
            "ilst",
            _box(b"\0\0\0\1", _box("data", struct.pack(">IIf", 23, 0, rate_hz))),
        ),
    )
    data = bytearray(path.read_bytes())
    _, end = find_box(data, "moov")
    return _replace(path, data, ("moov",), (end, end), meta)


def _box(kind: str | bytes, body: bytes) -> bytes:
    name = kind if isinstance(kind, bytes) else kind.encode()
    return struct.pack(">I4s", len(body) + 8, name) + body


def _replace(
    path: Path, data: bytearray, parents: tuple[str, ...], span: tuple[int, int], new: bytes
) -> Path:
    """Exchange a span inside nested boxes and correct the sizes of those around it."""
    start, stop = span
    grown = len(new) - (stop - start)
    assert find_box(data, "moov")[0] > find_box(data, "mdat")[0], "the index must come last"
    for depth in range(len(parents)):
        at, end = find_box(data, *parents[: depth + 1])
        struct.pack_into(">I", data, at, end - at + grown)
    data[start:stop] = new
    path.write_bytes(data)
    return path


# --- the timing files of the published checks ---------------------------------------------------


def timing_file(folder: Path, letter: str, *, count: int = 48) -> Path:
    """One of the seven files by which a reader's clock is checked.

    a: 240/s, no key. b: 30/s with the key 240. c: 240/s with the key 240. d: 30/s, every picture
    of the middle third shown twice in a row. e: 240/s whose edit list starts later. f: 30/s whose
    edit list plays at half speed. g: 240/s, frame 20 of the capture is missing.
    """
    path = folder / f"timing_{letter}.mp4"
    rate_hz = 30 if letter in "bdf" else 240
    tags = {CAPTURE_RATE_KEY: "240.000000"} if letter in "bc" else None
    if letter == "d":
        third = count // 3
        slow = [third + number // 2 for number in range(third)]
        shown = [*range(third), *slow, *range(slow[-1] + 1, slow[-1] + 1 + third)]
        every = list(moving_square(max(shown) + 1))
        return write_film(path, [every[k] for k in shown], ticks=even_ticks(len(shown), rate_hz))
    if letter == "g":
        kept = [number for number in range(count) if number != 20]
        every, ticks = list(moving_square(count)), even_ticks(count, rate_hz)
        return write_film(path, [every[k] for k in kept], ticks=[ticks[k] for k in kept])
    write_film(path, moving_square(count), ticks=even_ticks(count, rate_hz), tags=tags)
    duration_ms = round(1000 * count / rate_hz)
    if letter == "e":
        set_edits(path, [(duration_ms - 50, 12 * CLOCK_HZ // 240, 1.0)])
    if letter == "f":
        set_edits(path, [(2 * duration_ms, 0, 0.5)])
    return path
