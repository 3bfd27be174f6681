"""Skins of quadrilaterals: rings of points along a line, joined by faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sample_clips.curves import Floats


@dataclass(frozen=True)
class Skin:
    """A part's points over time, its faces and their colours."""

    points_m: Floats
    """(T, P, 3)."""
    faces: NDArray[np.intp]
    """(F, 4), points in order around."""
    colours: Floats
    """(F, 3), blue, green, red."""


def ring_faces(rings: int, sides: int) -> NDArray[np.intp]:
    """Faces between neighbouring rings of points, ((rings - 1) * sides, 4)."""
    row, column = np.divmod(np.arange((rings - 1) * sides), sides)
    after = (column + 1) % sides
    return np.stack(
        [row * sides + column, row * sides + after, (row + 1) * sides + after,
         (row + 1) * sides + column], -1,
    )  # fmt: skip


def tube_points(
    centres_m: Floats, left: Floats, front: Floats, *, half_m: Floats, sides: int
) -> Floats:
    """Points (T, rings * sides, 3) of a tube.

    Parameters
    ----------
    centres_m, left, front : ndarray of shape (T, rings, 3)
        Middle of each ring and its unit axes.
    half_m : ndarray of shape (rings, 3)
        Half widths to the side, the front and the back.
    """
    angle = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    side, depth = np.cos(angle), np.sin(angle)
    across = half_m[:, :1] * side
    along = np.where(depth > 0, half_m[:, 1:2], half_m[:, 2:3]) * depth
    points = (
        centres_m[:, :, None]
        + across[None, :, :, None] * left[:, :, None]
        + along[None, :, :, None] * front[:, :, None]
    )
    return points.reshape(points.shape[0], -1, 3)


def unit(vector: Floats) -> Floats:
    """The vector at length 1."""
    length: Floats = vector / np.linalg.norm(vector, axis=-1, keepdims=True)
    return length


def along_line(
    nodes_m: list[Floats], shares: Floats, *, left: Floats, blend: float = 0.12
) -> tuple[Floats, Floats, Floats]:
    """Centres and axes of rings along a bent line.

    Parameters
    ----------
    nodes_m : list of ndarray of shape (T, 3)
        Ends and bends of the line.
    shares : ndarray of shape (rings,)
        Where the rings are: 0.5 is the middle of the first piece, 1.5 of the second. May reach
        a little beyond the ends.
    left : ndarray of shape (T, 3)
        Roughly the tube's left, to be squared against its line.
    blend : float
        How far from a bend the rings begin to turn, in shares.
    """
    pieces = len(nodes_m) - 1
    steps = [nodes_m[k + 1] - nodes_m[k] for k in range(pieces)]
    centres, lefts, fronts = [], [], []
    for share in shares:
        k = int(np.clip(np.floor(share), 0, pieces - 1))
        centres.append(nodes_m[k] + (share - k) * steps[k])
        line = unit(steps[k])
        near = round(float(share))
        if 0 < near < pieces:
            weight = float(np.clip(0.5 + (share - near) / (2 * blend), 0, 1))
            line = unit((1 - weight) * unit(steps[near - 1]) + weight * unit(steps[near]))
        side = unit(left - np.sum(left * line, -1, keepdims=True) * line)
        lefts.append(side)
        fronts.append(np.cross(side, -line))
    return np.stack(centres, 1), np.stack(lefts, 1), np.stack(fronts, 1)
