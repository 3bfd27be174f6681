"""When a foot that pushes off sideways leaves the ground, from its own outline.

Seen from in front the toes are the lowest part: the shoe rises, or goes sideways, once they have
left. Seen from behind the heel is: it rises while the toes still push, and only going sideways
tells that they have left.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.sprint.stands import GroundMap, Stand
from measure.types import Instant

__all__ = ["LiftOff", "time_lift_off"]

Floats = NDArray[np.float64]

BEHIND_M, AHEAD_M = 0.3, 0.6
"""About the middle of the foot: what is looked at."""
AFTER_S = 0.15
RESTS = (0.3, 0.6)
"""Parts of a stand between which the foot lies still."""
NEAR_EDGE_M = 0.08
"""Behind the resting foot's edge: where its edge is looked for from; and the part of the shoe,
from its edge on, whose lowest point is followed."""
LEAST_CELL = 0.5
EDGE_SHARES = (0.3, 0.4, 0.5)
"""Of the foot's cover, at which its hind edge is looked for: a heel of the ground's colour covers
less than the rest, and one share alone then jumps from the heel to the middle of the foot."""
GONE_M, SURELY_GONE_M, GOING_S = 0.05, 0.08, 0.016
"""A shoe that has gone so far sideways has left so long before: its toes take up the body's 2 to
3 m/s within some 10 ms."""
UP_M, SURELY_UP_M, RISING_S = 0.02, 0.04, 0.008
HEEL_FIRST_S = 0.02
"""Shoes that rise so long before they go sideways are seen from behind."""
FEWEST_SEEN = 3
"""Stands that tell so."""
SIGMA_S, SIGMA_FRAMES = 0.006, 0.3
"""Of feet that leave slowly or at once."""


@dataclass(frozen=True, slots=True)
class LiftOff:
    """The end of a sideways push-off."""

    leaves: Instant
    heels_seen: bool | None
    """The body is seen from behind; None where too few feet tell."""


@dataclass(frozen=True, slots=True)
class _Signs:
    """When a shoe has gone sideways and up by a little."""

    goes_s: float
    rises_s: float | None


def time_lift_off(
    ground: GroundMap, last: Stand, *, others: tuple[Stand, ...], way: float
) -> LiftOff | None:
    """Time the end of a sideways push-off.

    Parameters
    ----------
    ground : GroundMap
    last : Stand
        The foot that pushes off.
    others : tuple of Stand
        Earlier ones of the shuffle: they tell with it whether the heels are seen or the toes.
    way : float
        1 towards greater distances, -1 towards smaller.

    Returns
    -------
    LiftOff or None
        None where the shoe's outline is not seen to go.

    Notes
    -----
    *Wrong* where the foot drags over the ground, or goes straight up and is seen from behind.
    """
    signs = _signs(ground, last, way)
    if signs is None:
        return None
    leads_s = [
        each.goes_s - each.rises_s
        for each in (signs, *(_signs(ground, stand, way) for stand in others))
        if each is not None and each.rises_s is not None
    ]
    heel_first = bool(leads_s) and float(np.median(leads_s)) > HEEL_FIRST_S
    leaves_s = signs.goes_s - GOING_S
    if signs.rises_s is not None and not heel_first:
        leaves_s = min(leaves_s, signs.rises_s - RISING_S)
    frame_s = float(np.median(np.diff(ground.time_s)))
    leaves = Instant(leaves_s, float(np.hypot(SIGMA_S, SIGMA_FRAMES * frame_s)))
    return LiftOff(leaves, heel_first if len(leads_s) >= FEWEST_SEEN else None)


def _signs(ground: GroundMap, stand: Stand, way: float) -> _Signs | None:
    columns, rows = _about(ground, stand, way)
    length_s = stand.end.time_s - stand.start.time_s
    resting_s = stand.start.time_s + length_s * np.array(RESTS)
    time_s = ground.time_s[rows]
    rests = (time_s >= resting_s[0]) & (time_s <= resting_s[1])
    if not rests.any():
        return None
    cells = np.stack([
        ground.cells[row][:, columns - ground.left[row]] for row in rows
    ]) / 255.0  # fmt: skip
    middle = int(np.argmin(np.abs(ground.distance_m[columns] - stand.distance_m)))
    edge, lowest = _outline(cells, rests, middle, ground.cell_m)
    # A foot that rolls off its toes swings its heel out behind before it goes. What the edge did
    # before the foot lay still was the other foot's doing.
    since = int(np.flatnonzero(rests)[0])
    gone_m = ground.cell_m * (edge[since:] - np.minimum.accumulate(edge[since:]))
    goes_s = _passes(time_s[since:], gone_m, GONE_M, SURELY_GONE_M)
    if goes_s is None:
        return None
    up_m = ground.cell_m * (lowest - np.median(lowest[rests]))
    return _Signs(goes_s, _passes(time_s, up_m, UP_M, SURELY_UP_M))


def _about(
    ground: GroundMap, stand: Stand, way: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Columns about a foot, its way to the right, and the frames that show all of them."""
    along_m = way * (ground.distance_m - stand.distance_m)
    columns = np.flatnonzero((along_m > -BEHIND_M) & (along_m < AHEAD_M))
    columns = columns[np.argsort(along_m[columns])]
    if columns.size == 0:
        return columns, columns
    width = ground.cells.shape[2]
    seen = (ground.left <= columns.min()) & (columns.max() < ground.left + width)
    near = (ground.time_s >= stand.start.time_s) & (ground.time_s <= stand.end.time_s + AFTER_S)
    return columns, np.flatnonzero(seen & near)


def _outline(
    cells: Floats, rests: NDArray[np.bool_], middle: int, cell_m: float
) -> tuple[Floats, Floats]:
    """Column of the shoe's hind edge and row of its lowest point, frame by frame."""
    tall = cells.sum(axis=1)
    resting = np.median(tall[rests], axis=0)
    most = float(resting[max(0, middle - 1) : middle + 2].max())
    near = max(1, round(NEAR_EDGE_M / cell_m))
    edge = np.median(
        [_edges(tall, resting, middle, near, share * most) for share in EDGE_SHARES], axis=0
    )
    return edge, np.array([
        _lowest(frame[:, int(at) + 1 : int(at) + 1 + near]) for frame, at in zip(
            cells, edge, strict=True)
    ])  # fmt: skip


def _edges(tall: Floats, resting: Floats, middle: int, near: int, level: float) -> Floats:
    """Where the cover first grows past a level, frame by frame, from behind the resting foot."""
    first = middle
    while first > 0 and resting[first - 1] > level:
        first -= 1
    return np.array([_edge(row, max(0, first - near), level) for row in tall])


def _edge(tall: Floats, first: int, level: float) -> float:
    """Where the cover first grows past a level, between columns."""
    grows = np.flatnonzero((tall[first:-1] <= level) & (tall[first + 1 :] > level))
    if grows.size == 0:
        return float(tall.size)
    k = first + int(grows[0])
    return float(k + (level - tall[k]) / (tall[k + 1] - tall[k]))


def _lowest(part: Floats) -> float:
    """Middle over the columns of the lowest covered row, between rows."""
    heights = [
        float(k) - (float(column[k - 1]) if k else 0.0)
        for column in part.T
        if (k := int(np.argmax(column > LEAST_CELL))) or column[0] > LEAST_CELL
    ]
    return float(np.median(heights)) if heights else float(part.shape[0])


def _passes(time_s: Floats, moved_m: Floats, limit_m: float, surely_m: float) -> float | None:
    """When a shoe passes a limit for the last time, and then surely goes.

    The other foot may have stood on the same place, and have gone, before.
    """
    surely = np.flatnonzero(moved_m > surely_m)
    if surely.size == 0:
        return None
    before = np.flatnonzero(moved_m[: surely[-1]] <= limit_m)
    if before.size == 0:
        return None
    k = int(before[-1])
    share = (limit_m - moved_m[k]) / (moved_m[k + 1] - moved_m[k])
    return float(time_s[k] + share * (time_s[k + 1] - time_s[k]))
