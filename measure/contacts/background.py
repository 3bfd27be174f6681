"""The ground as it looks when no leg stands before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.types import Floats, Landmark

Picture = NDArray[np.float32]

CELL_PX, CELLS_ACROSS = 4, 40
_LEGS = (
    (Landmark.LEFT_HIP, Landmark.LEFT_KNEE), (Landmark.RIGHT_HIP, Landmark.RIGHT_KNEE),
    (Landmark.LEFT_KNEE, Landmark.LEFT_ANKLE), (Landmark.RIGHT_KNEE, Landmark.RIGHT_ANKLE),
    (Landmark.LEFT_ANKLE, Landmark.LEFT_HEEL), (Landmark.RIGHT_ANKLE, Landmark.RIGHT_HEEL),
    (Landmark.LEFT_HEEL, Landmark.LEFT_TOE), (Landmark.RIGHT_HEEL, Landmark.RIGHT_TOE),
    (Landmark.LEFT_WRIST, Landmark.LEFT_INDEX), (Landmark.RIGHT_WRIST, Landmark.RIGHT_INDEX),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Background:
    """Picture of the ground, shape (H, W, 3), and where it was ever seen bare, shape (H, W)."""

    picture: Picture
    seen: NDArray[np.bool_]


def legs_cover(
    px: Floats, *, origin_px: tuple[float, float], shape: tuple[int, int], reach_px: float
) -> NDArray[np.bool_]:
    """Tell which pixels of a window lie within reach of a leg.

    Parameters
    ----------
    px : ndarray of shape (33, 2)
        Landmarks in the upright picture.
    origin_px : tuple
        Left and top edge of the window.
    shape : tuple
        Height and width of the window.
    reach_px : float
        Half the width of what counts as leg.

    Returns
    -------
    ndarray of shape (H, W)
    """
    covered = _covered_cells(px, origin_px, shape, reach_px=reach_px, step=CELL_PX)
    blown_up = np.repeat(np.repeat(covered, CELL_PX, axis=0), CELL_PX, axis=1)
    result: NDArray[np.bool_] = blown_up[: shape[0], : shape[1]]
    return result


def legs_cover_share(
    px: Floats, *, origin_px: tuple[float, float], shape: tuple[int, int], reach_px: float
) -> float:
    """Tell how much of a window lies within reach of a leg; arguments as in `legs_cover`."""
    step = max(CELL_PX, max(shape) // CELLS_ACROSS)
    return float(_covered_cells(px, origin_px, shape, reach_px=reach_px, step=step).mean())


def _covered_cells(
    px: Floats, origin_px: tuple[float, float], shape: tuple[int, int], *, reach_px: float,
    step: int,
) -> NDArray[np.bool_]:  # fmt: skip
    """Tell which squares of the window have their middle within reach of a leg."""
    rows = np.arange(0, shape[0], step) + step / 2 + origin_px[1]
    columns = np.arange(0, shape[1], step) + step / 2 + origin_px[0]
    covered = np.zeros((rows.size, columns.size), dtype=bool)
    legs = px[np.array(_LEGS)]
    # Only squares in the box about a leg, grown by its reach: most legs' touch no window at all.
    lowest, highest = legs.min(axis=1) - reach_px, legs.max(axis=1) + reach_px
    first_row, last_row = np.searchsorted(rows, [lowest[:, 1], highest[:, 1]])
    first_column, last_column = np.searchsorted(columns, [lowest[:, 0], highest[:, 0]])
    seen = np.isfinite(lowest).all(axis=1)  # a point that is not seen is near nothing
    for k in np.flatnonzero(seen & (first_row < last_row) & (first_column < last_column)):
        down, across = slice(first_row[k], last_row[k]), slice(first_column[k], last_column[k])
        squared = _squared_distance(columns[across], rows[down], *legs[k].tolist())
        covered[down, across] |= squared < reach_px**2
    return covered


def _squared_distance(columns: Floats, rows: Floats, a: list[float], b: list[float]) -> Floats:
    """From each point of a grid to the segment from a to b, shape (rows, columns)."""
    x, y = columns - a[0], (rows - a[1])[:, None]
    along_x, along_y = b[0] - a[0], b[1] - a[1]
    length2 = max(along_x * along_x + along_y * along_y, 1e-9)
    share = x * along_x + y * along_y
    share /= length2
    np.maximum(share, 0.0, out=share)
    np.minimum(share, 1.0, out=share)
    away_x, away_y = x - share * along_x, y - share * along_y
    squared: Floats = np.square(away_x) + np.square(away_y)
    return squared


def fit_background(pictures: Picture, covered: NDArray[np.bool_]) -> Background:
    """Take the middle value of each pixel over the pictures in which no leg covers it.

    Parameters
    ----------
    pictures : ndarray of shape (F, H, W, 3)
    covered : ndarray of shape (F, H, W)

    Returns
    -------
    Background
        Pixels never seen bare carry the plain median and are marked unseen.
    """
    bare_count = (~covered).sum(axis=0)
    stack = pictures.copy()  # and not np.where, which takes twice as long
    stack[covered] = np.inf
    stack.sort(axis=0)
    middle = np.maximum((bare_count - 1) // 2, 0)
    picture = np.take_along_axis(stack, middle[None, :, :, None], axis=0)[0]
    unseen = bare_count < 1
    if unseen.any():
        picture[unseen] = np.median(pictures[:, unseen], axis=0)
    return Background(picture.astype(np.float32), ~unseen)
