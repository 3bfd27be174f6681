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
    edges = np.array([[columns[0], rows[0]], [columns[-1], rows[-1]]])
    for a, b in px[np.array(_LEGS)]:
        if _may_reach(a, b, edges, reach_px):
            covered |= _squared_distance(columns, rows, a, b) < reach_px**2
    return covered


def _may_reach(a: Floats, b: Floats, edges: Floats, reach_px: float) -> bool:
    """Tell whether a segment's surrounding box touches the window's: most legs' don't."""
    (left, top), (right, bottom) = edges.tolist()
    (ax, ay), (bx, by) = a.tolist(), b.tolist()  # a point that is not seen is near nothing
    across = max(ax, bx) + reach_px >= left and min(ax, bx) - reach_px <= right
    down = max(ay, by) + reach_px >= top and min(ay, by) - reach_px <= bottom
    return across and down and not (a + b != a + b).any()


def _squared_distance(columns: Floats, rows: Floats, a: Floats, b: Floats) -> Floats:
    """From each point of a grid to the segment from a to b, shape (rows, columns)."""
    x, y = columns - a[0], (rows - a[1])[:, None]
    along_x, along_y = b - a
    share = (x * along_x + y * along_y) / max(along_x**2 + along_y**2, 1e-9)
    share = np.minimum(np.maximum(share, 0), 1)
    squared: Floats = (x - share * along_x) ** 2 + (y - share * along_y) ** 2
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
