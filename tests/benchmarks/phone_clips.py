"""Clips as heavy as a phone's: a drawn jump at any size, rate and length, with a sensor's noise.

The pictures come from a sample clip filmed at 240 per second. They are played forwards and
backwards in turn, which goes on without a break (a jump played backwards is a jump as well), so
that a clip may be as long as one likes. The noise is what makes a phone's files large.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

SOURCE_RATE_HZ = 240
CLOCK_HZ = 90_000
NOISE_GREY = 4.0
KEY_EVERY_S = 1.0
ENCODERS = {"h264": "libx264", "hevc": "libx265"}
PRESETS = {"h264": "superfast", "hevc": "ultrafast"}
"""The quickest with arithmetic coding and smoothed blocks, as phones write."""
SAMPLES = Path(__file__).resolve().parents[2] / "sample_clips" / "clips"


@dataclass(frozen=True)
class PhoneClip:
    """What a phone's camera app is set to."""

    codec: str
    height_px: int
    """The shorter side; the picture is 16 to 9."""
    rate_hz: int
    """A divisor of 240."""
    mbit_per_s: float
    duration_s: float

    @property
    def name(self) -> str:
        """Says it all."""
        return f"{self.codec}_{self.height_px}p_{self.rate_hz}_{self.duration_s:g}s"

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return round(self.height_px * 16 / 9 / 2) * 2, self.height_px


USUAL = (
    PhoneClip("h264", 720, 240, 12, 3),
    PhoneClip("h264", 1080, 240, 20, 3),
    PhoneClip("h264", 1080, 120, 20, 3),
    PhoneClip("h264", 1080, 60, 17, 3),
    PhoneClip("hevc", 1080, 60, 12, 3),
    PhoneClip("h264", 2160, 60, 20, 3),
    PhoneClip("hevc", 2160, 30, 20, 3),
)
LENGTHS = tuple(PhoneClip("h264", 720, 30, 12, length_s) for length_s in (5, 30, 120))


def make_phone_clip(folder: Path, wanted: PhoneClip, *, source: Path | None = None) -> Path:
    """Write one clip; one that is there already is kept.

    Parameters
    ----------
    folder : Path
    wanted : PhoneClip
    source : Path, optional
        Film of 240 pictures per second; default: a sample clip.
    """
    path = folder / f"{wanted.name}.mp4"
    if not path.exists():
        part = path.with_suffix(".part.mp4")
        _write(part, wanted, source or sample_source())
        part.rename(path)
    return path


def sample_source() -> Path:
    """The sample clip that was filmed at 240 pictures per second."""
    for truth in sorted(SAMPLES.glob("*.json")):
        facts = json.loads(truth.read_text(encoding="utf-8")).get("file", {})
        if isinstance(facts, dict) and facts.get("capture_rate_hz") == SOURCE_RATE_HZ:
            return truth.with_suffix(".mp4")
    raise FileNotFoundError(f"no clip of {SOURCE_RATE_HZ} pictures per second in {SAMPLES}")


def encoders() -> set[str]:
    """Codecs that can be written on this machine."""
    return {codec for codec, name in ENCODERS.items() if name in av.codecs_available}


def _write(path: Path, wanted: PhoneClip, source: Path) -> None:
    bits = round(wanted.mbit_per_s * 1e6)
    options = {
        "preset": PRESETS[wanted.codec], "g": str(round(KEY_EVERY_S * wanted.rate_hz)),
        "maxrate": str(bits), "bufsize": str(bits),
    }  # fmt: skip
    with av.open(str(path), "w", options={"video_track_timescale": str(CLOCK_HZ)}) as container:
        stream = container.add_stream(
            ENCODERS[wanted.codec], rate=Fraction(wanted.rate_hz), options=options
        )
        stream.width, stream.height = wanted.size_px
        stream.pix_fmt, stream.bit_rate = "yuv420p", bits
        for picture in _noisy(_pictures(wanted, source)):
            container.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="yuv420p")))
        container.mux(stream.encode(None))


def _pictures(wanted: PhoneClip, source: Path) -> Iterator[Bytes]:
    """Planes of brightness and colour one below the other, at the wanted rate and size."""
    step, width, height = SOURCE_RATE_HZ // wanted.rate_hz, *wanted.size_px
    kept: list[Bytes] = []
    with av.open(str(source)) as container:
        for number, frame in enumerate(container.decode(video=0)):
            if number % step == 0:
                kept.append(frame.to_ndarray(format="yuv420p"))
    there_and_back = itertools.cycle([*range(len(kept)), *range(len(kept) - 2, 0, -1)])
    for number in itertools.islice(there_and_back, round(wanted.duration_s * wanted.rate_hz)):
        yield _resized(kept[number], width, height)


def _resized(planes: Bytes, width: int, height: int) -> Bytes:
    rows, columns = planes.shape[0] * 2 // 3, planes.shape[1]
    if (columns, rows) == (width, height):
        return planes
    colours = planes[rows:].reshape(2, rows // 2, columns // 2)
    large = [
        cv2.resize(planes[:rows], (width, height), interpolation=cv2.INTER_CUBIC),
        *(cv2.resize(one, (width // 2, height // 2)).reshape(-1, width) for one in colours),
    ]
    return np.concatenate(large)


def _noisy(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    """Put noise on the brightness; cut from one large field at random places."""
    rng = np.random.default_rng(7)
    field: NDArray[np.int16] | None = None
    for planes in pictures:
        rows, columns = planes.shape[0] * 2 // 3, planes.shape[1]
        if field is None:
            grain = cv2.GaussianBlur(rng.normal(size=(rows + 97, columns + 97)), (0, 0), 0.6)
            field = np.round(grain * (NOISE_GREY / grain.std())).astype(np.int16)
        y, x = rng.integers(0, 97, 2)
        noise = np.ascontiguousarray(field[y : y + rows, x : x + columns])
        planes = planes.copy()
        planes[:rows] = cv2.add(planes[:rows], noise, dtype=cv2.CV_8U)
        yield planes
