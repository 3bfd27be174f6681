"""How far the camera moved since the first picture, from the still background."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["CameraMoved", "Registration"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

FEWEST_CORNERS = 20
MOST_CORNERS = 250
CORNER_QUALITY, CORNERS_LOOKED_AT = 0.005, 1000
CELLS_ACROSS, MOST_IN_CELL = 10, 3
"""Corners are spread over cells of the picture: before a bare wall most of the clearest ones are on
the athlete, and would tell her movement instead of the camera's."""
FEWEST_AGREEING_SHARE = 0.35
AGREE_PX, ROUGHLY_AGREE_PX = 0.7, 1.4
"""A phone in the hand goes sideways as well, and corners near and far go apart: where too few agree
closely, more may do so roughly."""
SAME_LIGHT_SHARE, LIGHT_STEP = 0.02, 8
"""A phone that opens its iris makes the whole picture brighter, and corners seem to move. Of every
so manieth pixel is told by how much."""
LIGHT_CELLS = (12, 12)
UNEVEN_SHARE, UNEVEN_CELLS_SHARE = 0.05, 0.3
"""A lamp that flickers draws bands across fast films: so many cells of the picture differ by more
than this from what the whole picture does."""
FLAT_PX, FLAT_GREY = 25, 110.0
"""Pictures are then compared after each pixel was divided by the light about it."""
STILL = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])


class CameraMoved(Exception):
    """The background of a picture cannot be laid over the first one."""


@dataclass
class Registration:
    """Lays small grey pictures over the first one of them.

    Parameters
    ----------
    first : ndarray of shape (H, W), uint8
    step : int
        Full pixels per small pixel.

    Notes
    -----
    Corners followed by optical flow, a similarity by consensus, refined on those that agree. With
    fewer corners than needed (a bare wall) nothing can be said and the camera counts as still.
    """

    first: Bytes
    step: int

    def __post_init__(self) -> None:
        self._corners = _spread_corners(self.first)
        self._last = STILL.copy()
        self._light = self.first[::LIGHT_STEP, ::LIGHT_STEP].astype(np.float32) + 1
        self._cells = _cells(self.first)
        self._flat_first: Bytes | None = None

    def picture_from_first(self, grey: Bytes) -> Floats:
        """Similarity from the first picture's full pixels to this one's, shape (2, 3).

        Raises
        ------
        CameraMoved
            When too little of the background can be found again.
        """
        if len(self._corners) < FEWEST_CORNERS:
            return STILL.copy()
        guess = (self._corners[:, 0] @ self._last[:, :2].T + self._last[:, 2])[:, None]
        found, seen, _ = cv2.calcOpticalFlowPyrLK(
            *self._in_same_light(grey), self._corners, guess.astype(np.float32),
            winSize=(21, 21), maxLevel=2, flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
            criteria=(3, 20, 0.01),
        )  # fmt: skip
        seen = seen[:, 0] == 1
        before = self._corners[seen, 0].astype(np.float64)
        after = found[seen, 0].astype(np.float64)
        self._last = _similarity(before, after, len(self._corners))
        return self._in_full_pixels(self._last)

    def _in_same_light(self, grey: Bytes) -> tuple[Bytes, Bytes]:
        """The first picture and this one, as bright as each other.

        By the middle of all pixels: people hide fewer.
        """
        gain = float(np.median(self._light / (grey[::LIGHT_STEP, ::LIGHT_STEP] + np.float32(1))))
        uneven = np.abs(gain * _cells(grey) / self._cells - 1) > UNEVEN_SHARE
        if uneven.mean() > UNEVEN_CELLS_SHARE:
            if self._flat_first is None:
                self._flat_first = _flat(self.first)
            return self._flat_first, _flat(grey)
        if abs(gain - 1) < SAME_LIGHT_SHARE:
            return self.first, grey
        return self.first, np.asarray(cv2.convertScaleAbs(grey, alpha=gain), dtype=np.uint8)

    def _in_full_pixels(self, small: Floats) -> Floats:
        """Small pixels have their centres on whole numbers, full ones on halves."""
        full = small.copy()
        half = np.array([0.5, 0.5])
        full[:, 2] = self.step * (small[:, 2] + half - small[:, :2] @ half)
        return full


def _cells(grey: Bytes) -> NDArray[np.float32]:
    """Mean light of each cell of the picture."""
    cells = cv2.resize(grey, LIGHT_CELLS, interpolation=cv2.INTER_AREA)
    return np.asarray(cells, dtype=np.float32) + 1


def _flat(grey: Bytes) -> Bytes:
    """Each pixel over the light about it."""
    level = grey.astype(np.float32) + 4
    return np.asarray(
        cv2.convertScaleAbs(level / cv2.blur(level, (FLAT_PX, FLAT_PX)), alpha=FLAT_GREY),
        dtype=np.uint8,
    )


def _spread_corners(grey: Bytes) -> NDArray[np.float32]:
    """The clearest corners of each part of the picture, shape (C, 1, 2)."""
    corners = cv2.goodFeaturesToTrack(
        grey, CORNERS_LOOKED_AT, CORNER_QUALITY, minDistance=6, blockSize=5
    )
    if corners is None:
        return np.empty((0, 1, 2), np.float32)
    cells = (corners[:, 0] // (grey.shape[1] / CELLS_ACROSS)).astype(int)
    in_cell: Counter[tuple[int, int]] = Counter()
    kept = []
    for number, (column, row) in enumerate(cells.tolist()):  # clearest first
        in_cell[column, row] += 1
        if in_cell[column, row] <= MOST_IN_CELL:
            kept.append(number)
    return np.asarray(corners[kept[:MOST_CORNERS]], dtype=np.float32)


def _agreeing(before: Floats, after: Floats, within_px: float) -> NDArray[np.bool_]:
    """Which corners the similarity of most of them lays so near to where they were found."""
    _, agree = cv2.estimateAffinePartial2D(
        before, after, method=cv2.RANSAC, ransacReprojThreshold=within_px, confidence=0.999
    )
    return np.asarray(agree.ravel() == 1)


def _similarity(before: Floats, after: Floats, wanted: int) -> Floats:
    fewest = max(FEWEST_CORNERS / 2, FEWEST_AGREEING_SHARE * wanted)
    if len(before) < fewest:
        raise CameraMoved
    agree = _agreeing(before, after, AGREE_PX)
    if agree.sum() < fewest:
        agree = _agreeing(before, after, ROUGHLY_AGREE_PX)
    if agree.sum() < fewest:
        # Somebody in front of most corners, or on her way out with them, moves no camera.
        unmoved = np.hypot(*(after - before).T) < AGREE_PX
        if unmoved.sum() < FEWEST_CORNERS:
            raise CameraMoved
        return STILL.copy()
    # What a small athlete uncovers or shades is found a pixel off: most corners outvote it.
    _, close = cv2.estimateAffinePartial2D(before[agree], after[agree], method=cv2.LMEDS)
    agree[agree] = close.ravel() == 1
    source, target = before[agree], after[agree]
    middle = source.mean(axis=0)
    x, y = (source - middle).T
    one, zero = np.ones_like(x), np.zeros_like(x)
    rows = np.concatenate([np.stack([x, -y, one, zero], 1), np.stack([y, x, zero, one], 1)])
    (a, b, u, v), *_ = np.linalg.lstsq(rows, target.T.ravel(), rcond=None)
    turn = np.array([[a, -b], [b, a]])
    return np.hstack([turn, (np.array([u, v]) - turn @ middle)[:, None]])
