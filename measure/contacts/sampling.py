"""Read pictures between their pixels: values at turned and shifted places, slopes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.contacts.background import Picture
from measure.types import Floats


@dataclass(frozen=True, slots=True)
class Corners:
    """The four pixels about each place, and how much each of them counts."""

    pixel: NDArray[np.int64]
    """Shape (4, P), numbered row by row through the picture."""
    share: Picture
    """Shape (4, P)."""

    def of(self, places: NDArray[np.int64]) -> Corners:
        """Those of some of the places, by number."""
        return Corners(self.pixel.take(places, axis=1), self.share.take(places, axis=1))


def find_corners(x: Floats, y: Floats, image: Picture) -> Corners:
    """Find the four pixels about each place, in any image so large; beyond it, those of its edge.

    Parameters
    ----------
    x, y : ndarray of shape (P,)
        Pixel centres at whole numbers.
    image : ndarray of shape (H, W, C)

    Returns
    -------
    Corners
    """
    height, width = image.shape[:2]
    x = np.minimum(np.maximum(x, 0), width - 1.001)
    y = np.minimum(np.maximum(y, 0), height - 1.001)
    left, top = x.astype(np.int64), y.astype(np.int64)
    x -= left
    y -= top
    share = np.empty((4, x.size), np.float32)
    lower_right = x * y
    share[0] = 1 - x - y + lower_right
    share[1] = x - lower_right
    share[2] = y - lower_right
    share[3] = lower_right
    top *= width
    top += left
    return Corners(top + np.array([[0], [1], [width], [width + 1]]), share)


def read_corners(image: Picture, corners: Corners) -> Picture:
    """Weigh the four pixels about each place: straight interpolation, shape (P, C)."""
    four = image.reshape(-1, image.shape[2]).take(corners.pixel, axis=0)
    read: Picture = np.einsum("kp,kpc->pc", corners.share, four)
    return read


def largest_colour(colours: Picture) -> Picture:
    """Largest of three colours, (..., 3) to (...): numpy is slow along an axis of three."""
    red, green, blue = np.moveaxis(colours, -1, 0)
    largest: Picture = np.maximum(np.maximum(red, green), blue)
    return largest


def turned_places(points: Floats, centre: Floats, *, shift: Floats, turn: float) -> Floats:
    """Turn points about a centre and shift them, shape (P, 2)."""
    cos, sin = np.cos(turn), np.sin(turn)
    turn_matrix = np.array([[cos, sin], [-sin, cos]])
    places: Floats = (points - centre) @ turn_matrix + (centre + shift)
    return places


def slopes(picture: Picture) -> tuple[Picture, Picture]:
    """Change per pixel to the right and downwards.

    Smoothed across the slope only: colours must not mix.

    Parameters
    ----------
    picture : ndarray of shape (H, W, C)

    Returns
    -------
    right, down : ndarray of shape (H, W, C)
    """
    height, width = picture.shape[:2]
    edged = np.pad(picture, [(1, 1), (1, 1), (0, 0)], "edge")
    right = edged[:, 2:] - edged[:, :-2]
    down = edged[2:] - edged[:-2]
    return (
        _smoothed([right[k : k + height] for k in range(3)]),
        _smoothed([down[:, k : k + width] for k in range(3)]),
    )


def _smoothed(neighbours: Sequence[Picture]) -> Picture:
    """Half of the weighted mean: a slope is half the step over two pixels."""
    before, here, after = neighbours
    smoothed: Picture = (before + 2 * here + after) / 8
    return smoothed
