"""On one leg the foot that is lower is the one that stands: name the legs by that."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from measure.types import FOOT_LANDMARKS, Foot, PoseTrack

__all__ = ["name_standing_leg"]

_LOWER_STATURES = 0.06
"""The free foot is held higher than this; less may be a bend in the picture."""
_OFF_GROUND_STATURES = 0.04
"""A standing foot that seems to float by more is a blend of both, left by smoothing a swap."""


def name_standing_leg(
    track: PoseTrack, *, foot: Foot, rows: NDArray[np.int64], stature_px: float
) -> PoseTrack:
    """Exchange the legs in the rows where the foot that stands is named as the other one.

    Parameters
    ----------
    track : PoseTrack
    foot : {"left", "right"}
        The foot that stands.
    rows : ndarray of shape (N,)
        Rows in which it alone is on the ground.
    stature_px : float

    Returns
    -------
    PoseTrack
        Other rows, and rows whose feet are about level, unchanged. Where neither foot is on the
        ground the legs below the hips are NaN.

    Notes
    -----
    Seen from the side the pose model sometimes gives the standing leg the free one's name, for
    too long to notice by jumps. *When this is wrong*: a free foot that hangs as low as the
    standing one is left as it was.
    """
    free: Foot = "right" if foot == "left" else "left"
    own, other = FOOT_LANDMARKS[foot], FOOT_LANDMARKS[free]
    own_px = track.px[rows][:, [own.ankle, own.heel, own.toe], 1].mean(axis=1)
    other_px = track.px[rows][:, [other.ankle, other.heel, other.toe], 1].mean(axis=1)
    swapped = rows[other_px - own_px > _LOWER_STATURES * stature_px]
    left, right = (
        [marks.hip, marks.knee, marks.ankle, marks.heel, marks.toe]
        for marks in FOOT_LANDMARKS.values()
    )
    order = np.arange(track.px.shape[1])
    order[left], order[right] = right, left
    px, visibility, world_m = track.px.copy(), track.visibility.copy(), track.world_m.copy()
    for values in (px, visibility, world_m):
        values[swapped] = values[swapped][:, order]
    level_px = np.fmax(own_px, other_px)
    blended = rows[level_px < np.median(level_px) - _OFF_GROUND_STATURES * stature_px]
    # Hips are the same whichever leg is which: their middle is still good.
    px[np.ix_(blended, left[1:] + right[1:])] = np.nan
    return replace(track, px=px, visibility=visibility, world_m=world_m)
