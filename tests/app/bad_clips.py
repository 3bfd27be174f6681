"""Films that cannot be measured, and films that are hard to: small, and made on the spot."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import av
import cv2
import numpy as np

from app.samples import list_samples
from tests.clip_files import (
    CLOCK_HZ,
    Bytes,
    even_ticks,
    find_box,
    moving_square,
    write_film,
    write_sound,
)

__all__ = ["BUILDERS", "change_film", "sample"]

Change = Callable[[Bytes, int], Bytes]
ATHLETE_COLUMNS_PX, ATHLETE_TOP_PX = (540, 760), 150
"""Where the sample clip from the side shows its athlete before the jump."""


def sample(name: str) -> Path:
    """A sample clip that comes with the program."""
    return next(each.path for each in list_samples() if each.name == name)


def change_film(
    path: Path, change: Change, *, source: str = "vertical_side_60", until: int | None = None
) -> Path:
    """Write a sample clip with every picture changed; its timestamps stay."""
    ticks = _ticks(sample(source))[:until]
    return write_film(path, _changed(sample(source), change, len(ticks)), ticks=ticks)


def _ticks(source: Path) -> list[int]:
    with av.open(str(source)) as film:
        stream = film.streams.video[0]
        scale = float(stream.time_base) * CLOCK_HZ
        stamps = sorted(packet.pts for packet in film.demux(stream) if packet.pts is not None)
    return [round((stamp - stamps[0]) * scale) for stamp in stamps]


def _changed(source: Path, change: Change, count: int) -> Iterator[Bytes]:
    with av.open(str(source)) as film:
        for number, picture in enumerate(film.decode(video=0)):
            if number == count:
                return
            yield np.ascontiguousarray(change(picture.to_ndarray(format="rgb24"), number))


# --- no clip at all ---


def text(path: Path) -> Path:
    path.write_bytes(b"Dear reader, this was a letter once. " * 99)
    return path


def zero_bytes(path: Path) -> Path:
    path.touch()
    return path


def half(path: Path) -> Path:
    """A copy that stopped halfway; the index comes first, so that the rest still plays."""
    write_film(path, moving_square(90), ticks=even_ticks(90, 60), fast_start=True)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    return path


def without_index(path: Path) -> Path:
    """A copy whose index, written last, never came."""
    write_film(path, moving_square(90), ticks=even_ticks(90, 60))
    content = path.read_bytes()
    path.write_bytes(content[: find_box(content, "moov")[0]])
    return path


def sound_only(path: Path) -> Path:
    return write_sound(path)


def single_picture(path: Path) -> Path:
    return write_film(path, moving_square(1), ticks=[0])


def few_pictures(path: Path) -> Path:
    return write_film(path, moving_square(6), ticks=even_ticks(6, 60))


def eleven_minutes(path: Path) -> Path:
    """A picture every two seconds for eleven minutes."""
    return write_film(path, moving_square(331), ticks=even_ticks(331, 0.5))


# --- nobody, or nothing ---


def room_picture(number: int, *, width: int = 640, height: int = 360) -> Bytes:
    """A wall, a floor, a door and a window, with the grain of a small camera."""
    picture = np.empty((height, width, 3), np.uint8)
    picture[:] = (196, 190, 178)
    picture[height * 2 // 3 :] = (122, 96, 70)
    picture[height // 4 : height * 2 // 3, width // 8 : width // 4] = (90, 70, 52)
    picture[height // 6 : height // 3, width * 5 // 8 : width * 7 // 8] = (210, 226, 240)
    grain = np.random.default_rng(number).integers(-4, 5, picture.shape)
    return np.clip(picture + grain, 0, 255).astype(np.uint8)


def empty_room(path: Path, *, seconds: float = 2.0) -> Path:
    count = round(30 * seconds)
    return write_film(path, map(room_picture, range(count)), ticks=even_ticks(count, 30))


def standing_only(path: Path) -> Path:
    """An athlete who waits: the second before a jump, played to and fro."""
    with av.open(str(sample("vertical_side_60"))) as film:
        first = [
            picture.to_ndarray(format="rgb24")
            for _, picture in zip(range(30), film.decode(video=0), strict=False)
        ]
    shown = [*first, *first[::-1], *first]
    return write_film(path, shown, ticks=even_ticks(len(shown), 60))


def leaves_the_picture(path: Path) -> Path:
    """The athlete glides out before anything is jumped: the hall stays, nobody is in it."""
    (left, right), top = ATHLETE_COLUMNS_PX, ATHLETE_TOP_PX
    hall: list[Bytes] = []

    def glide(picture: Bytes, number: int) -> Bytes:
        if not hall:
            hall.append(picture.copy())
            hall[0][top:, left:right] = picture[top:, 2 * left - right : left]
        shown = hall[0].copy()
        to = left + max(number - 15, 0) * 24
        width = max(min(right - left, shown.shape[1] - to), 0)
        shown[top:, to : to + width] = picture[top:, left : left + width]
        return shown

    return change_film(path, glide)


# --- badly filmed ---


def feet_cut(path: Path) -> Path:
    """The lowest part of the picture is missing, and the athlete's feet with it."""
    return change_film(path, lambda picture, _: picture[:500])


def panned(path: Path) -> Path:
    """The camera turns all the while; what comes in from the side is the mirrored picture."""

    def pan(picture: Bytes, number: int) -> Bytes:
        shift = round(1.5 * number)
        wide = np.concatenate([picture, picture[:, ::-1]], axis=1)
        return wide[:, shift : shift + picture.shape[1]]

    return change_film(path, pan)


def dark(path: Path) -> Path:
    return change_film(path, lambda picture, _: picture // 24)


def blurred(path: Path) -> Path:
    return change_film(path, lambda picture, _: cv2.GaussianBlur(picture, (0, 0), 14))


def sideways(path: Path) -> Path:
    """Filmed upright, and the file does not say so: everybody lies on the side."""
    return change_film(path, lambda picture, _: np.rot90(picture))


def ultra_high(path: Path) -> Path:
    """The picture of a phone that films in 3840 x 2160."""
    return change_film(
        path, lambda picture, _: cv2.resize(picture, (3840, 2160), interpolation=cv2.INTER_CUBIC)
    )


BUILDERS: dict[str, Callable[[Path], Path]] = {
    builder.__name__: builder
    for builder in (
        text, zero_bytes, half, without_index, sound_only, single_picture, few_pictures,
        eleven_minutes, empty_room, standing_only, leaves_the_picture, feet_cut, panned, dark,
        blurred, sideways, ultra_high,
    )
}  # fmt: skip
