"""Files as a phone writes them: noise of the sensor, timestamps, compression, a turned picture."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from sample_clips.curves import Floats
from sample_clips.picture import Bytes

CLOCK_HZ = 90_000
POOL_MARGIN_PX = 97


@dataclass(frozen=True)
class Recording:
    """How the phone records and writes."""

    capture_rate_hz: float = 60.0
    container_rate_hz: float = 60.0
    """Lower than the capture rate for slow motion."""
    repeats: int = 1
    """How many times each picture stands in the file."""
    variable_rate: bool = False
    rotation_deg: int = 0
    """Clockwise turn that the file asks for; 90 when the phone was held upright."""
    exposure_s: float = 1 / 250
    noise: float = 2.0
    """Deviation of the sensor's noise, of 255."""
    crf: int = 26
    """Compression of libx264: higher is worse."""
    seed: int = 0

    @property
    def file_s_per_s(self) -> float:
        """Seconds of file time per real second."""
        return self.capture_rate_hz * self.repeats / self.container_rate_hz

    def capture_times_s(self, duration_s: float) -> Floats:
        """Real times of the distinct pictures, from 0."""
        count = int(duration_s * self.capture_rate_hz) + 1
        times = np.arange(count) / self.capture_rate_hz
        if not self.variable_rate:
            return times
        rng = np.random.default_rng(self.seed)
        kept = rng.random(count) > 0.04
        kept[0] = True
        jitter = rng.uniform(-0.08, 0.08, count) / self.capture_rate_hz
        jitter[0] = 0.0
        late: Floats = (times + jitter)[kept]
        return late

    def ticks(self, times_s: Floats) -> NDArray[np.int64]:
        """Timestamps in the file, of every frame, in ticks of `CLOCK_HZ`."""
        if self.variable_rate:
            return np.round(times_s * self.file_s_per_s * CLOCK_HZ).astype(np.int64)
        frames = np.arange(times_s.size * self.repeats)
        return np.round(frames * CLOCK_HZ / self.container_rate_hz).astype(np.int64)


def add_noise(pictures: Iterator[Bytes], recording: Recording) -> Iterator[Bytes]:
    """Put the sensor's noise on pictures, a little smoothed as phones do."""
    rng = np.random.default_rng(recording.seed + 1)
    pool: NDArray[np.int16] | None = None
    for picture in pictures:
        height, width = picture.shape[:2]
        if pool is None:
            size = (height + POOL_MARGIN_PX, width + POOL_MARGIN_PX)
            grain = rng.normal(0, 1, (*size, 3)).astype(np.float32)
            grain = 0.6 * grain + 0.8 * rng.normal(0, 1, (*size, 1)).astype(np.float32)
            grain = cv2.GaussianBlur(grain, (0, 0), 0.55)
            pool = np.round(grain * (recording.noise / grain.std())).astype(np.int16)
        y, x = rng.integers(0, POOL_MARGIN_PX, 2)
        here = pool[y : y + height, x : x + width]
        if rng.random() < 0.5:
            here = here[:, ::-1]
        yield cv2.add(picture, np.ascontiguousarray(here), dtype=cv2.CV_8U)


def write_film(
    path: Path, pictures: Iterator[Bytes], *, times_s: Floats, recording: Recording
) -> int:
    """Write pictures of the given real times; return how many frames the file has."""
    ticks = iter(recording.ticks(times_s).tolist())
    written = 0
    with av.open(str(path), "w", options={"video_track_timescale": str(CLOCK_HZ)}) as container:
        stream = None
        for picture in pictures:
            upright = picture
            if recording.rotation_deg:
                upright = np.ascontiguousarray(np.rot90(picture, recording.rotation_deg // 90))
            if stream is None:
                stream = container.add_stream(
                    "libx264", rate=Fraction(recording.container_rate_hz),
                    options={"preset": "veryfast", "crf": str(recording.crf), "threads": "1"},
                )  # fmt: skip
                stream.height, stream.width = upright.shape[:2]
                stream.pix_fmt = "yuv420p"
                stream.codec_context.time_base = Fraction(1, CLOCK_HZ)
            for _ in range(recording.repeats):
                frame = av.VideoFrame.from_ndarray(upright, format="bgr24")
                frame.pts, frame.time_base = next(ticks), Fraction(1, CLOCK_HZ)
                container.mux(stream.encode(frame))
                written += 1
        if stream is not None:
            container.mux(stream.encode(None))
    if recording.rotation_deg:
        ask_for_turn(path, recording.rotation_deg)
    return written


def ask_for_turn(path: Path, clockwise_deg: int) -> None:
    """Write a clockwise turn into the display matrix of the track header."""
    a, b, c, d = {90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}[clockwise_deg]
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4
    if data[at] != 0:
        raise ValueError("the track header: expected version 0")
    one = 0x10000
    struct.pack_into(">9i", data, at + 40, a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
