"""Make clips poorer: ``python -m sample_clips.spoil FOLDER OUT [--only NAME] [--kind KIND]``.

Every film with a truth file beside it is written again as a poor phone, light or network would have
given it, with the same truth: what is measured in it may be worse, and must say so.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

from sample_clips.film import Recording, add_noise, ask_for_turn
from sample_clips.picture import Bytes

Spoiler = Callable[[Iterator[Bytes]], Iterator[Bytes | None]]
"""From pictures to poorer ones, each in its turn; None where one is lost."""

GRAIN, DIM_GRAIN = 9.0, 5.0
"""Deviation of the sensor's noise, of 255."""
DIM_GAMMA, DIM_WHITE = 1.6, 110.0
BLUR_PX = 1.6
LAMP_SHARE, LAMP_RAD = 0.06, 0.9
"""A lamp's light swings by this share, and its phase moves on so far from picture to picture."""
BAND_SHARE, BANDS_RAD, BAND_RAD = 0.22, 7.5, 2.5
"""A lamp of a hall in a fast film: bands of light, from the first row of a picture to its last one
so much of their way, which have moved on by so much in the next picture."""
IRIS_GAIN, IRIS_FROM, IRIS_PICTURES = 1.25, 24, 24
"""A phone that opens its iris makes pictures so much brighter, from this one on, within so many."""
LOST_SHARE = 0.06
"""So many pictures never reach the file of a phone with too much to do."""


def main(arguments: list[str] | None = None) -> None:
    """Read the command line and write."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.spoil", description=__doc__)
    parser.add_argument("folder", type=Path, help="clips NAME.mp4 with truth files NAME.json")
    parser.add_argument("out", type=Path, help="where NAME_KIND.mp4 and .json are written")
    parser.add_argument("--only", default="", help="clips whose name contains this")
    parser.add_argument("--kind", choices=sorted(SPOILERS), help="one kind of spoiling")
    asked = parser.parse_args(arguments)
    asked.out.mkdir(parents=True, exist_ok=True)
    for film in sorted(asked.folder.glob("*.mp4")):
        if asked.only in film.name and film.with_suffix(".json").exists():
            for kind in [asked.kind] if asked.kind else SPOILERS:
                print(spoil(film, asked.out, kind), flush=True)


def spoil(film: Path, folder: Path, kind: str) -> Path:
    """Write one poorer copy of a film and its truth; the timestamps of what is kept and turn stay.

    Parameters
    ----------
    film : Path
        With its truth file beside it.
    folder : Path
    kind : str
        A key of `SPOILERS`.

    Returns
    -------
    Path
        The written film.
    """
    spoiler, crf = SPOILERS[kind]
    truth = json.loads(film.with_suffix(".json").read_text())
    path = folder / f"{film.stem}_{kind}.mp4"
    size = _write(film, path, spoiler, crf)
    turn_deg = truth["file"].get("rotation_deg", 0)
    if turn_deg:
        ask_for_turn(path, turn_deg)
    if kind == "halved":
        for rate in ("capture_rate_hz", "container_rate_hz"):
            truth["file"][rate] /= 2
    truth["file"]["width_px"], truth["file"]["height_px"] = size[:: -1 if turn_deg % 180 else 1]
    path.with_suffix(".json").write_text(json.dumps(truth))
    return path


def _write(film: Path, path: Path, spoiler: Spoiler, crf: int) -> tuple[int, int]:
    """Stored width and height of what was written."""
    stream: Any = None
    with av.open(str(film)) as source:
        stored = source.streams.video[0]
        clock = stored.time_base or Fraction(1, 90_000)
        ticks: list[Any] = []
        options = {"video_track_timescale": str(clock.denominator)}
        with av.open(str(path), "w", options=options) as out:
            for picture in spoiler(_pictures(source, ticks)):
                tick = ticks.pop(0)
                if picture is None:
                    continue
                if stream is None:
                    stream = out.add_stream(
                        "libx264", rate=stored.average_rate,
                        options={"preset": "veryfast", "crf": str(crf), "threads": "1"},
                    )  # fmt: skip
                    stream.height, stream.width = picture.shape[:2]
                    stream.pix_fmt = "yuv420p"
                    stream.codec_context.time_base = clock
                poorer = av.VideoFrame.from_ndarray(picture, format="bgr24")
                poorer.pts, poorer.time_base = tick, clock
                out.mux(stream.encode(poorer))
            out.mux(stream.encode(None))
    return stream.width, stream.height


def _pictures(source: Any, ticks: list[Any]) -> Iterator[Bytes]:
    """Stored pictures; the timestamp of each is put down as it is handed over."""
    for frame in source.decode(video=0):
        ticks.append(frame.pts)
        yield frame.to_ndarray(format="bgr24")


def _as_they_are(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    return pictures


def _grainy(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    return add_noise(pictures, Recording(noise=GRAIN))


def _dim(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    darker = _bytes(DIM_WHITE * (np.arange(256) / 255.0) ** DIM_GAMMA)
    return add_noise((darker[picture] for picture in pictures), Recording(noise=DIM_GRAIN))


def _unsharp(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    for picture in pictures:
        yield np.asarray(cv2.GaussianBlur(picture, (0, 0), BLUR_PX), dtype=np.uint8)


def _small(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    for picture in pictures:
        height, width = (side // 4 * 2 for side in picture.shape[:2])
        small = cv2.resize(picture, (width, height), interpolation=cv2.INTER_AREA)
        yield np.asarray(small, dtype=np.uint8)


def _flickering(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    for number, picture in enumerate(pictures):
        light = 1 + LAMP_SHARE * np.sin(LAMP_RAD * number)
        yield _bytes(np.arange(256) * light)[picture]


def _banded(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    for number, picture in enumerate(pictures):
        way = np.linspace(0, BANDS_RAD, picture.shape[0]) + BAND_RAD * number
        yield _bytes(picture * (1 + BAND_SHARE * np.sin(way))[:, None, None])


def _brightening(pictures: Iterator[Bytes]) -> Iterator[Bytes]:
    for number, picture in enumerate(pictures):
        share = np.clip((number - IRIS_FROM) / IRIS_PICTURES, 0, 1)
        yield _bytes(np.arange(256) * (1 + (IRIS_GAIN - 1) * share))[picture]


def _stuttering(pictures: Iterator[Bytes]) -> Iterator[Bytes | None]:
    rng = np.random.default_rng(3)
    for number, picture in enumerate(pictures):
        lost = number > 0 and rng.random() < LOST_SHARE
        yield None if lost else picture


def _halved(pictures: Iterator[Bytes]) -> Iterator[Bytes | None]:
    for number, picture in enumerate(pictures):
        yield picture if number % 2 == 0 else None


def _bytes(values: Any) -> Bytes:
    return np.clip(values, 0, 255).astype(np.uint8)


SPOILERS: dict[str, tuple[Spoiler, int]] = {
    "crushed": (_as_they_are, 36),
    "grainy": (_grainy, 26),
    "dim": (_dim, 24),
    "unsharp": (_unsharp, 24),
    "small": (_small, 24),
    "flickering": (_flickering, 22),
    "banded": (_banded, 22),
    "brightening": (_brightening, 22),
    "stuttering": (_stuttering, 22),
    "halved": (_halved, 22),
}
"""What is done to each picture, and how hard libx264 then squeezes it (its rate factor)."""


if __name__ == "__main__":
    main()
