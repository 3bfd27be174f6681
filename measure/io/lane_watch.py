"""Does a lane marked earlier still fit? Look for its cones where they should be."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.lane import fit_lane
from calibration.lane_values import Lane
from calibration.values import Refused
from measure.io.marks import find_cones, find_markers

__all__ = ["LaneWatch", "watch_lane"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

REACH_SHARE = 0.03
"""Of the picture's width: as far as a nudge is looked for."""
AGREE_PX = 4.0
"""Cones of a nudged phone all move alike within this, for a picture 1920 pixels wide."""
STILL_PX = 2.5
"""Smaller shifts are how well cones are found and clicked."""
LEAST_SEEN_SHARE = 0.5
FEWEST_SEEN = 3


@dataclass(frozen=True, slots=True)
class LaneWatch:
    """A lane that fits this clip, and what was seen."""

    lane: Lane
    moved_px: float | None
    """How far the cones stand from their marks; None where too few are seen to say."""


def watch_lane(rgb: Bytes, lane: Lane) -> LaneWatch | Refused:
    """Compare the marks with the cones in a picture; fit the lane anew where all moved alike.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
        The still part of the clip.
    lane : Lane

    Returns
    -------
    LaneWatch or Refused
        Refused where the cones moved and no camera fits them any more. Lines on the ground
        cannot be watched: then the lane is taken as it was marked.
    """
    marks = np.array([mark.px for mark in lane.survey.marks])
    reach_px, scale = REACH_SHARE * lane.width_px, max(1.0, lane.width_px / 1920)
    shift, cones = _common_shift(marks, _stands(rgb, marks, reach_px), reach_px, AGREE_PX * scale)
    matched = np.isfinite(cones[:, 0])
    if matched.sum() < max(FEWEST_SEEN, LEAST_SEEN_SHARE * len(marks)):
        return LaneWatch(lane, None)
    moved_px = float(np.hypot(*shift))
    if moved_px <= STILL_PX * scale:
        return LaneWatch(lane, moved_px)
    stands = np.where(matched[:, None], cones, marks + shift)
    moved_marks = tuple(
        replace(mark, px=(float(x), float(y)))
        for mark, (x, y) in zip(lane.survey.marks, stands, strict=True)
    )
    again = fit_lane(
        replace(lane.survey, marks=moved_marks), width_px=lane.width_px, height_px=lane.height_px
    )
    if isinstance(again, Refused):
        return Refused(
            "lane", f"The phone was moved since the lane was marked: its cones stand "
            f"{moved_px:.0f} px away. {again.reason}", "Mark the lane again in this clip.",
        )  # fmt: skip
    return LaneWatch(again, moved_px)


def _stands(rgb: Bytes, marks: Floats, reach_px: float) -> Floats:
    """Feet of cones and markers in the rows of the picture where a nudged phone may show them."""
    top = max(0, int(marks[:, 1].min() - 2 * reach_px))
    band = np.ascontiguousarray(rgb[top : int(marks[:, 1].max() + 2 * reach_px)])
    found = [(x, y + top) for x, y in (mark.px for mark in (*find_markers(band), *find_cones(
        band, picture_height_px=rgb.shape[0])))]  # fmt: skip
    return np.array(found, dtype=np.float64).reshape(-1, 2)


def _common_shift(
    marks: Floats, seen: Floats, reach_px: float, agree_px: float
) -> tuple[Floats, Floats]:
    """Shift on which most marks agree, and the cone found for each mark (NaN for none)."""
    nowhere = np.full(marks.shape, np.nan)
    if seen.size == 0:
        return np.zeros(2), nowhere
    apart = seen[None, :, :] - marks[:, None, :]
    near = np.abs(apart).max(axis=-1) < reach_px
    best = np.zeros(2), nowhere, (0, 0.0)
    for shift in [np.zeros(2), *apart[near]]:
        miss = np.where(near, np.hypot(*np.moveaxis(apart - shift, -1, 0)), np.inf)
        pick = np.argmin(miss, axis=1)
        agree = miss[np.arange(len(marks)), pick] < agree_px
        rank = (int(agree.sum()), -float(np.hypot(*shift)))
        if rank > best[2]:
            found = np.where(agree[:, None], seen[pick], np.nan)
            best = np.nanmedian(found - marks, axis=0), found, rank
    return best[0], best[1]
