"""From one planned event's pictures to the ways of its forefoot patches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from measure.contacts.background import Background, Picture
from measure.contacts.follow import PatchPath, follow_patch
from measure.contacts.patch import (
    SOFT_SHADOW,
    Mask,
    Patch,
    PatchRegion,
    ShadowLook,
    column_band,
    first_patch,
    reassign_patch,
    shoe_masks,
)
from measure.contacts.sampling import (
    find_corners,
    largest_colour,
    read_corners,
    turned_places,
)
from measure.types import Floats

Rows = NDArray[np.int64]

End = Literal["toe", "heel"]
TOE_SIZES_M = ((0.06, 0.05), (0.08, 0.05), (0.11, 0.16))
"""Height above the sole and length behind the tip. Small patches slide inside plain shoes, large
ones feel the ankle and the bend of the shoe: three vote."""
HEEL_SIZES_M = ((0.06, 0.06), (0.08, 0.08))
HEEL_AHEAD_M = 0.05


@dataclass(frozen=True, slots=True)
class Trace:
    """One patch's way through the pictures of one event."""

    patch: Patch
    path: PatchPath
    end: End
    direction: int
    """Side of the picture to which this end of the foot points: 1 right, -1 left, 0 neither."""
    contrast_grey: float = 100.0
    """Grey levels by which the standing shoe differs from the bare ground, in the mean."""


@dataclass(frozen=True, slots=True)
class EventPictures:
    """All that is known about one foot near one event, in window coordinates."""

    pictures: Picture
    """Shape (K, H, W, 3), blurred by 0.8 px, grey levels 0 to 255."""
    time_s: Floats
    background: Background
    reference_row: int
    toe_px: Floats
    """Pose's toe in each picture, shape (K, 2)."""
    heel_px: Floats
    px_per_m: float


def trace_event(
    event: EventPictures, *, ends: Sequence[End] = ("toe",), shadow: ShadowLook = SOFT_SHADOW
) -> list[Trace]:
    """Follow the ends of the foot with every patch size that finds enough shoe.

    Parameters
    ----------
    event : EventPictures
    ends : sequence of {"toe", "heel"}
        The heel only where the foot is seen from the side.
    shadow : ShadowLook, optional

    Returns
    -------
    list of Trace
        Empty where no foot stands out from the ground.
    """
    masks = shoe_masks(event.pictures[event.reference_row], event.background, shadow=shadow)
    traces = []
    for end in ends:
        for region in _regions(event, end):
            trace = _trace_one(event, masks, region, end, shadow)
            if trace is not None:
                traces.append(trace)
    return traces


def _regions(event: EventPictures, end: End) -> list[PatchRegion]:
    toe, heel = event.toe_px[event.reference_row], event.heel_px[event.reference_row]
    if end == "toe":
        return [
            PatchRegion(toe, heel, event.px_per_m, height_m, behind_m)
            for height_m, behind_m in TOE_SIZES_M
        ]
    regions = [
        PatchRegion(heel, toe, event.px_per_m, height_m, behind_m, HEEL_AHEAD_M)
        for height_m, behind_m in HEEL_SIZES_M
    ]
    return [region for region in regions if region.direction]


def _trace_one(
    event: EventPictures, masks: tuple[Mask, Mask], region: PatchRegion, end: End,
    shadow: ShadowLook,
) -> Trace | None:  # fmt: skip
    reference = event.pictures[event.reference_row]
    first = first_patch(reference, masks, event.background, region=region, shadow=shadow)
    if first is None:
        return None
    patch, changed, other = first
    near = _rows_near_reference(event)
    path = _follow(patch, event, near, end)
    evidence = None if shadow.is_deep else _evidence(patch, path, event, near, region)
    if evidence is not None:  # a deep shadow moves along with the shoe
        again = reassign_patch(reference, evidence, region=region, changed=changed, other=other)
        patch = again or patch
    path = _follow(patch, event, np.arange(event.time_s.shape[0]), end)
    contrast = largest_colour(np.abs(reference - event.background.picture)[patch.mask])
    return Trace(patch, path, end, region.direction, float(contrast.mean()))


def _rows_near_reference(event: EventPictures) -> Rows:
    """Rows in which the foot moves, from the standing picture on: most lie on that side of it."""
    interval_s = float(np.median(np.diff(event.time_s)))
    since_s = event.time_s - event.time_s[event.reference_row]
    if event.reference_row > event.time_s.shape[0] / 2:
        since_s = -since_s
    return np.flatnonzero((since_s >= 0) & (since_s < max(0.10, 3.2 * interval_s)))


def _follow(patch: Patch, event: EventPictures, rows: Rows, end: End) -> PatchPath:
    points = event.toe_px if end == "toe" else event.heel_px
    pose_shift = points - points[event.reference_row]
    pictures = event.pictures[rows[0] : rows[-1] + 1]  # neighbours: no copy
    return follow_patch(
        patch, event.background.picture, pictures, time_s=event.time_s[rows],
        pose_shift_px=pose_shift[rows],
        reference_row=int(np.flatnonzero(rows == event.reference_row)[0]),
        px_per_m=event.px_per_m,
    )  # fmt: skip


def _evidence(
    patch: Patch, path: PatchPath, event: EventPictures, rows: Rows, region: PatchRegion,
) -> Floats | None:  # fmt: skip
    """Grey levels by which shoe beats ground at each pixel once the foot has moved."""
    moved = np.hypot(*path.shift_px.T) > 3
    others = np.delete(path.misfit, path.reference_row)
    clear = path.misfit < 3 * np.median(np.append(others, 10.0))
    used = np.flatnonzero(moved & clear)[:10]
    if used.size < 2:
        return None
    sole_row = patch.sole[:, 1].max()
    shape = event.background.seen.shape
    row_numbers = np.arange(shape[0])[:, None]
    unit = region.px_per_m
    zone = column_band(region, (shape[0], shape[1]))
    zone &= (row_numbers > sole_row - region.height_m * unit - 2) & (
        row_numbers <= sole_row + 0.03 * unit
    )
    ys, xs = np.nonzero(zone)
    points = np.stack([xs, ys], axis=1).astype(float)
    standing = event.pictures[event.reference_row][ys, xs]
    score = np.zeros(ys.shape[0])
    for k in used:
        picture = event.pictures[np.searchsorted(event.time_s, path.time_s[k])]
        places = turned_places(
            points, patch.centre, shift=path.shift_px[k], turn=float(path.turn_rad[k])
        )
        corners = find_corners(places[:, 0], places[:, 1], picture)
        seen = read_corners(picture, corners)
        ground = read_corners(event.background.picture, corners)
        score += np.minimum(largest_colour(np.abs(seen - ground)), 45)
        score -= np.minimum(largest_colour(np.abs(seen - standing)), 45)
    evidence = np.zeros(shape)
    evidence[ys, xs] = score / used.size
    smoothed: Floats = np.where(zone, gaussian_filter(evidence, 1.0), 0.0)
    return smoothed
