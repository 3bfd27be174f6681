"""Put right the poses in which the model took one leg for the other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["untangle_legs"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
LARGEST_JERK_M = 0.5
"""A leg's point that misses its straight course by more counts no more than this."""
CHANGE_COST_M = 0.05
"""What changing over must gain."""
SWAPPED_COST_M = 0.003
"""The model's own naming wins where nothing is gained."""


def untangle_legs(time_s: Floats, left_m: Floats, right_m: Floats) -> Bools:
    """Find the rows in which left and right legs must be exchanged.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
    left_m, right_m : ndarray of shape (T, K)
        Coordinates of each leg's points (knee and foot, along and up), metres.

    Returns
    -------
    ndarray of shape (T,), bool

    Notes
    -----
    The naming along which both legs' points change their velocity least, by dynamic programming
    over pairs of rows. *Wrong* where the legs stay together for long: then it does not matter.
    """
    rows = time_s.size
    if rows < 3:
        return np.zeros(rows, dtype=np.bool_)
    named = np.stack([np.hstack([left_m, right_m]), np.hstack([right_m, left_m])])
    cost = np.zeros((2, 2))
    cost[1, :] = 0.02  # the first row is as the model named it unless much speaks against it
    came_from = []
    for row in range(2, rows):
        bend = _bend(time_s[row - 2 : row + 1], named[:, row - 2 : row + 1])
        total = cost[:, :, None] + bend
        total += CHANGE_COST_M * (1 - np.eye(2))[None] + SWAPPED_COST_M * np.array([0, 1])
        came_from.append(np.argmin(total, axis=0))
        cost = total.min(axis=0)
    return _walk_back(cost, came_from)


def _bend(time_s: Floats, named: Floats) -> Floats:
    """Cost of each naming of three rows, shape (2, 2, 2)."""
    first_s, second_s = np.diff(time_s)
    shorter_s = min(first_s, second_s)
    before = (named[None, :, 1] - named[:, None, 0]) / first_s
    after = (named[None, :, 2] - named[:, None, 1]) / second_s
    change = np.abs(after[None, :, :] - before[:, :, None]) * shorter_s
    return np.asarray(np.minimum(change, LARGEST_JERK_M).sum(axis=-1))


def _walk_back(cost: Floats, came_from: list[NDArray[np.intp]]) -> Bools:
    before, now = divmod(int(np.argmin(cost)), 2)
    names = [now, before]
    for source in reversed(came_from):
        before, now = int(source[before, now]), before
        names.append(before)
    return np.array(names[::-1], dtype=np.bool_)
