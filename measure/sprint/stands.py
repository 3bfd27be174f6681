"""Stands of a runner's feet, from what covers the ground along the lane over time.

A foot on the ground covers the same stretch of the lane from its touch to its push-off, whichever
foot it is and whatever a pose makes of it; everything else passes with the body.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from measure.types import Instant

__all__ = ["GroundMap", "Stand", "find_stands"]

Floats = NDArray[np.float64]

COVERED = 0.35
"""Of a column's height: from here on something stands there."""
FOOT_QUANTILE, FAINT_SHARE, LEAST_COVERED = 0.9, 0.45, 0.06
"""Shoes of nearly the ground's colour cover less. Feet come down in about every sixth column: what
this quantile of the columns holds for a stand is what a foot covers, and so much of it counts."""
OWN_SHARE = 0.4
"""Of what the same column holds at most: a cone that a shoe hides differs more than the ground, and
the encoder leaves a shade of it behind."""
LEAST_STAND_S = 0.05
LEAST_FRAMES = 3
LEAST_WIDTH_M, WIDEST_M = 0.06, 0.55
CORE_SHARE = 0.7
"""Columns that are covered this share of the longest cover belong to the foot itself."""
FIRST_SHARE, LAST_SHARE = 0.3, 0.8
"""Toes or heel come first, and the heel leaves first: the stand begins once this share of the
columns looks as in its middle, and ends where this share of them is free again."""
LIFT_SHARE = 0.2
TAIL_SHARE = 0.35
"""Of the widest cover: rows with less belong to no foot."""
UNLIKE = 0.3
"""Of how much a resting foot differs from the ground: so far it has moved by a part of a pixel."""
SEARCHED_S = 0.08
FAINTEST = 12.0
"""Of 255: a foot that differs less from the ground is not seen."""
SEEN_SHARE = 0.5
"""Of a foot's columns must differ from the ground."""
SAME_FOOT_M, SAME_FOOT_SHARE = 0.22, 0.5
"""What is nearer than this and there for as much of the same time is one stand, cut by a cone in
front. In a shuffle one foot comes down beside the place that the other has just left."""
START_SIGMA_S, END_SIGMA_S = 0.005, 0.016
"""Of shoes that come down and roll off in their own ways, over a ground of their colour or not."""
SIGMA_FRAMES = 0.3


@dataclass(frozen=True, slots=True)
class GroundMap:
    """How much of the first decimetre above the runner's line is covered, by what is no shadow."""

    time_s: Floats
    """Shape (T,), every frame of the run."""
    distance_m: Floats
    """Shape (W,), along the lane, of each column of the picture."""
    covered: NDArray[np.float32]
    """Shape (T, W), 0 to 1."""
    rgb: NDArray[np.uint8]
    """What is seen there about the runner, shape (T, H, w, 3)."""
    left: NDArray[np.int64]
    """Column of the map at which each picture begins, shape (T,)."""
    cells: NDArray[np.uint8]
    """How much each pixel of the first quarter of a metre is covered, 0 to 255, shape (T, H', w).
    Rows go up from a few below the runner's line."""
    cell_m: float
    """Side of such a pixel."""


@dataclass(frozen=True, slots=True)
class Stand:
    """One foot on the ground."""

    start: Instant
    end: Instant
    distance_m: float
    """Middle of the foot."""
    lifts: Instant
    """When the first part of it has left: the push-off of a foot that goes sideways and then
    passes over its own place."""


def find_stands(ground: GroundMap, *, from_s: float, until_s: float) -> tuple[Stand, ...]:
    """Find the stands that lie within a part of a run.

    Parameters
    ----------
    ground : GroundMap
    from_s, until_s : float
        Both ends of a stand lie between them.

    Returns
    -------
    tuple of Stand
        By time; stands that are cut off or hidden are left out.

    Notes
    -----
    A foot whose colour is the ground's is not seen. *Wrong* in high grass, which hides the sole:
    the stand then looks shorter.
    """
    rows = (ground.time_s >= from_s) & (ground.time_s <= until_s)
    time_s, covered = ground.time_s[rows], ground.covered[rows]
    if time_s.size < 2 * LEAST_FRAMES:
        return ()
    frame_s = float(np.median(np.diff(time_s)))
    levels = _levels(covered, frame_s)
    labels, count = ndimage.label(_long_runs(covered > levels, frame_s))
    first = int(np.flatnonzero(rows)[0])
    found = [
        stand
        for span, columns in ndimage.find_objects(labels, max_label=count)
        if (stand := _read(
            ground, slice(span.start + first, span.stop + first), columns, frame_s, levels[columns]
        )) is not None and from_s <= stand.start.time_s and stand.end.time_s <= until_s
    ]  # fmt: skip
    return _joined(sorted(found, key=lambda stand: stand.start.time_s))


def _levels(covered: NDArray[np.float32], frame_s: float) -> Floats:
    """Cover from which on something stands on a column, shape (W,)."""
    held = ndimage.minimum_filter1d(covered, _stand_rows(frame_s), axis=0).max(axis=0)
    foot = float(np.quantile(held[covered.any(axis=0)], FOOT_QUANTILE)) if covered.any() else 0.0
    least = np.clip(FAINT_SHARE * foot, LEAST_COVERED, COVERED)
    return np.asarray(np.maximum(least, OWN_SHARE * held), dtype=np.float64)


def _stand_rows(frame_s: float) -> int:
    """Frames of the shortest stand."""
    return max(LEAST_FRAMES, int(np.ceil(LEAST_STAND_S / frame_s)))


def _long_runs(covered: NDArray[np.bool_], frame_s: float) -> NDArray[np.bool_]:
    """Leave only what stays covered for the shortest stand."""
    kept = ndimage.binary_opening(covered, np.ones((_stand_rows(frame_s), 1), bool))
    return np.asarray(kept, dtype=np.bool_)


def _read(
    ground: GroundMap, span: slice, columns: slice, frame_s: float, levels: Floats
) -> Stand | None:
    """Read one stand from where the foot lies as still as in the middle of it."""
    span = _without_tails(ground, span, columns, levels)
    share = (ground.covered[span, columns] > levels).mean(axis=0)
    core = np.arange(columns.start, columns.stop)[share >= CORE_SHARE * share.max()]
    places_m = ground.distance_m[core]
    column_m = float(np.median(np.abs(np.diff(ground.distance_m))))
    if not LEAST_WIDTH_M <= np.ptp(places_m) + column_m <= WIDEST_M:
        return None
    more = round(SEARCHED_S / frame_s)
    if span.start < more or span.stop + more > ground.time_s.size:
        return None
    rows = np.arange(span.start - more, span.stop + more)
    unlike = _unlike(ground, rows, core, (span.start + span.stop - 1) / 2)
    if unlike is None:
        return None
    middle = more + (span.stop - span.start) // 2
    time_s = ground.time_s[rows]
    begins_s = [_still_from(time_s, column, middle) for column in unlike.T]
    free_s = [_free_from(time_s, column, middle) for column in ground.covered[rows][:, core].T]
    start_s = float(np.quantile(begins_s, FIRST_SHARE))
    end_s = float(np.quantile(free_s, LAST_SHARE))
    if not (time_s[0] < start_s < end_s - LEAST_STAND_S and end_s < time_s[-1]):
        return None
    end_sigma_s = float(np.hypot(END_SIGMA_S, SIGMA_FRAMES * frame_s))
    return Stand(
        Instant(start_s, float(np.hypot(START_SIGMA_S, SIGMA_FRAMES * frame_s))),
        Instant(end_s, end_sigma_s), float(np.mean(places_m)),
        Instant(float(np.quantile(free_s, LIFT_SHARE)), end_sigma_s),
    )  # fmt: skip


def _without_tails(ground: GroundMap, span: slice, columns: slice, levels: Floats) -> slice:
    """Leave out rows in which only a few columns are covered: the encoder's leftovers."""
    wide = (ground.covered[span, columns] > levels).sum(axis=1)
    rows = np.flatnonzero(wide >= TAIL_SHARE * wide.max())
    return slice(span.start + int(rows[0]), span.start + int(rows[-1]) + 1)


def _unlike(
    ground: GroundMap, rows: NDArray[np.int64], core: NDArray[np.int64], middle: float
) -> Floats | None:
    """How much each column differs from the foot at rest: 0 not at all, 1 as the free ground."""
    width = ground.rgb.shape[2]
    if np.any(core[0] < ground.left[rows]) or np.any(core[-1] >= ground.left[rows] + width):
        return None
    seen = np.stack([
        ground.rgb[row][:, core - ground.left[row]] for row in rows
    ]).astype(np.float32)  # fmt: skip
    resting = np.abs(rows - middle) <= max(1.0, 0.15 * rows.size)
    foot = np.median(seen[resting], axis=0)
    free = np.median(seen[[0, 1, -2, -1]], axis=0)
    contrast = np.abs(foot - free).max(axis=-1)
    weight = np.where(contrast > FAINTEST, contrast, 0.0)
    total = weight.sum(axis=0)
    if np.mean(total > 0) < SEEN_SHARE:
        return None
    apart = np.minimum(np.abs(seen - foot).max(axis=-1), contrast)
    seen_sum = (apart * (weight > 0)).sum(axis=1)[:, total > 0]
    return np.asarray(seen_sum / total[total > 0], dtype=np.float64)


def _still_from(time_s: Floats, unlike: Floats, middle: int) -> float:
    """When a column begins to look as in the middle, between frames."""
    before = np.flatnonzero(unlike[:middle] > UNLIKE)
    return float(time_s[0]) if before.size == 0 else _passes(
        time_s, unlike, int(before[-1]), UNLIKE
    )  # fmt: skip


def _free_from(time_s: Floats, covered: NDArray[np.float32], middle: int) -> float:
    """When half of a column's cover is gone, between frames."""
    half = float(np.median(covered[middle - 1 : middle + 2])) / 2
    after = np.flatnonzero(covered[middle:] < half)
    return float(time_s[-1]) if after.size == 0 else _passes(
        time_s, covered, middle + int(after[0]) - 1, half
    )  # fmt: skip


def _passes(
    time_s: Floats, values: Floats | NDArray[np.float32], row: int, limit: float
) -> float:
    """Moment between a row and the next at which a limit is passed."""
    here, there = float(values[row]), float(values[row + 1])
    share = np.clip((limit - here) / (there - here), 0, 1) if here != there else 0.5
    return float(time_s[row] + share * (time_s[row + 1] - time_s[row]))


def _joined(stands: list[Stand]) -> tuple[Stand, ...]:
    """One stand for each foot that a cone in front cuts in two: the longer part."""
    kept: list[Stand] = []
    for stand in stands:
        twin = next((k for k, other in enumerate(kept) if _is_same(other, stand)), None)
        if twin is None:
            kept.append(stand)
        elif _length_s(stand) > _length_s(kept[twin]):
            kept[twin] = stand
    return tuple(kept)


def _is_same(one: Stand, other: Stand) -> bool:
    near = abs(one.distance_m - other.distance_m) < SAME_FOOT_M
    overlap_s = min(one.end.time_s, other.end.time_s) - max(one.start.time_s, other.start.time_s)
    shorter_s = min(_length_s(one), _length_s(other))
    return near and overlap_s > SAME_FOOT_SHARE * shorter_s


def _length_s(stand: Stand) -> float:
    return stand.end.time_s - stand.start.time_s
