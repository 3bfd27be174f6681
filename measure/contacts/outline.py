"""Follow the lowest edge of the feet against the bare ground, whatever bends inside the shoe."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.contacts.background import Background, Picture
from measure.contacts.follow import PatchPath
from measure.contacts.patch import threshold_grey
from measure.types import Floats


@dataclass(frozen=True, slots=True)
class OutlineSettings:
    """Lengths in metres."""

    half_width_m: float = 0.11
    """Columns on both sides of the toe that may hold the foot."""
    above_m: float = 0.14
    below_m: float = 0.05
    area_m2: float = 0.0004
    """The edge lies where this much of the foot is below it: one pixel of noise moves nothing."""
    shadow_floor: float = 0.5
    """Ground that is darker than the bare ground down to this share may be shadow."""
    shadow_tint: float = 0.12
    """... if its colours darken alike to within this."""


def follow_outline(
    pictures: Picture, background: Background, *, time_s: Floats, toe_px: Floats,
    reference_row: int, px_per_m: float, settings: OutlineSettings | None = None,
) -> PatchPath:  # fmt: skip
    """Follow the height of the foot's lowest edge.

    Parameters
    ----------
    pictures : ndarray of shape (K, H, W, 3)
    background : Background
    time_s : ndarray of shape (K,)
    toe_px : ndarray of shape (K, 2)
        Pose's toe, window coordinates.
    reference_row : int
        Row of the standing picture.
    px_per_m : float
    settings : OutlineSettings, optional

    Returns
    -------
    PatchPath
        Only the vertical way carries meaning; rows in which no foot stands out are left out.

    Notes
    -----
    Wrong where a hard shadow touches the foot: it belongs to the outline until the foot is well
    off the ground. As the heel rises the edge climbs by a few millimetres.
    """
    settings = settings or OutlineSettings()
    edges = np.array(
        [
            _lowest_edge(picture, background, toe=toe, px_per_m=px_per_m, settings=settings)
            for picture, toe in zip(pictures, toe_px, strict=True)
        ]
    )
    seen = np.isfinite(edges)
    seen[reference_row] = True
    shift = np.zeros((len(time_s), 2))
    shift[:, 1] = np.where(seen, edges - edges[reference_row], 0.0)
    rows = np.flatnonzero(seen)
    return PatchPath(
        time_s=time_s[rows], shift_px=shift[rows], turn_rad=np.zeros(rows.size),
        misfit=np.zeros(rows.size), reference_row=int(np.flatnonzero(rows == reference_row)[0]),
    )  # fmt: skip


def _lowest_edge(
    picture: Picture, background: Background, *, toe: Floats, px_per_m: float,
    settings: OutlineSettings,
) -> float:  # fmt: skip
    """Row, in fractions of a pixel, with the given area of foot below it; NaN where none is."""
    height, width = picture.shape[:2]
    left = int(max(0, toe[0] - settings.half_width_m * px_per_m))
    right = int(min(width, toe[0] + settings.half_width_m * px_per_m + 1))
    top = int(max(0, toe[1] - settings.above_m * px_per_m))
    bottom = int(min(height, toe[1] + settings.below_m * px_per_m + 1))
    if right - left < 4 or bottom - top < 4:
        return float("nan")
    foot = _foot_share(
        picture[top:bottom, left:right], background.picture[top:bottom, left:right],
        threshold=threshold_grey(picture, background), settings=settings,
    )  # fmt: skip
    from_below = np.cumsum(foot.sum(axis=1)[::-1])
    area_px = settings.area_m2 * px_per_m**2
    if from_below[-1] < 4 * area_px:
        return float("nan")
    above = int(np.searchsorted(from_below, area_px))
    before = from_below[above - 1] if above > 0 else 0.0
    share = (area_px - before) / max(from_below[above] - before, 1e-9)
    return float(bottom - above - share)


def _foot_share(
    picture: Picture, ground: Picture, *, threshold: float, settings: OutlineSettings
) -> Floats:
    """How surely each pixel is foot, 0 to 1."""
    difference = np.abs(picture - ground).max(axis=2)
    ratio = (picture + 8) / (ground + 8)
    middle, tint = ratio.mean(axis=2), np.ptp(ratio, axis=2)
    shadow = (middle < 1.02) & (middle > settings.shadow_floor) & (tint < settings.shadow_tint)
    share: Floats = np.clip((difference - 0.5 * threshold) / threshold, 0, 1) * ~shadow
    return share
