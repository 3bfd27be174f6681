"""Measure how much each picture of a clip differs from the one before.

A file may show each captured picture several times, exactly or encoded anew. Two levels tell
these from new pictures: the change of an ordinary block (noise, compression) and that of the
blocks that change most (whatever moves).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

BLOCK = 8
"""Side of a block in pixels of the small pictures: with steps of 4, 32 pixels of the film."""
HIGH_QUANTILE = 0.995
"""The moving part of the picture may be this small a share of it: a far athlete's legs."""


@dataclass(frozen=True, slots=True)
class PictureChanges:
    """Changes between neighbouring pictures; row k is from picture k to picture k + 1."""

    noise_level: Floats
    """Mean absolute difference in the median block, shape (T - 1,), grey levels. Exactly 0 in
    repeated pictures, but also where the encoder copied a quiet background."""
    motion_level: Floats
    """The same in the block at the 99.5 % rank, shape (T - 1,), grey levels: near 0 only when
    nothing moved or the picture is a repeat."""


def measure_changes(pictures: Iterable[Bytes], *, block: int = BLOCK) -> PictureChanges:
    """Compare every picture with the one before it.

    Parameters
    ----------
    pictures : iterable of ndarray of shape (H, W), uint8
        Small grey pictures (`Frame.grey_small`), all of one size; only two are held at a time.
    block : int
        Side of the squares over which differences are averaged.

    Returns
    -------
    PictureChanges
        Of length zero for fewer than two pictures.

    Raises
    ------
    ValueError
        When a picture is smaller than a block or differs in size from the one before.

    Notes
    -----
    *When this is wrong*: a repeat that was encoded anew still changes a little, and an athlete
    who stands still changes no more than that. With every picture shown twice and encoded again
    (H.264 and HEVC, rate factors 23 to 33) the motion level of repeats was 0.3 to 3.3 in the
    median, 4.6 at most, that of new pictures 3 to 45 in the median: only the pattern over the
    moving part of a clip tells, never a single pair.
    """
    meter = ChangeMeter(block)
    for picture in pictures:
        meter.take(picture)
    return meter.changes()


class ChangeMeter:
    """Compares pictures that come one at a time, as `measure_changes` does.

    Parameters
    ----------
    block : int
        Side of the squares over which differences are averaged.
    """

    def __init__(self, block: int = BLOCK) -> None:
        self._block = block
        self._levels: list[tuple[float, float]] = []
        self._before: Bytes | None = None

    def take(self, picture: Bytes) -> None:
        """Take the next small grey picture, shape (H, W)."""
        if self._before is not None:
            blocks = _block_differences(self._before, picture, self._block)
            noise_level, motion_level = np.quantile(blocks, (0.5, HIGH_QUANTILE))
            self._levels.append((float(noise_level), float(motion_level)))
        self._before = picture

    def changes(self) -> PictureChanges:
        """Give the changes between all pictures taken so far."""
        noise, motion = np.array(self._levels, dtype=np.float64).reshape(-1, 2).T
        return PictureChanges(noise_level=noise, motion_level=motion)


def largest_colour(differences: NDArray[np.float32]) -> NDArray[np.float32]:
    """Give the largest of three colours, (H, W, 3) to (H, W); numpy is slow along a short axis."""
    red, green, blue = np.moveaxis(differences, -1, 0)
    return np.asarray(np.maximum(np.maximum(red, green), blue))


def _block_differences(before: Bytes, now: Bytes, block: int) -> Floats:
    """Mean absolute difference of each whole block, shape (H // block * W // block,)."""
    rows, columns = now.shape[0] // block, now.shape[1] // block
    if before.shape != now.shape or min(rows, columns) < 1:
        raise ValueError(
            f"pictures: expected equal sizes of at least {block}, got {before.shape}, {now.shape}"
        )
    whole = np.s_[: rows * block, : columns * block]
    difference = cv2.absdiff(now[whole], before[whole]).astype(np.float32)
    means = cv2.resize(difference, (columns, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(means, dtype=np.float64).ravel()
