"""The forefoot as a patch of pixels: which pixels are shoe, and what they look like standing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, label, maximum_filter, minimum_filter

from measure.contacts.background import Background, Picture
from measure.contacts.sampling import largest_colour, slopes
from measure.types import Floats

Mask = NDArray[np.bool_]
Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Patch:
    """Pixels of a standing forefoot and its rim, in window coordinates (x, y; pixel centres)."""

    points: Floats
    """Shape (P, 2)."""
    colours: Floats
    """Shape (P, 3): what the standing picture shows there."""
    opacity: Floats
    """Shape (P, 1): 1 inside the shoe, 0 on bare ground."""
    shoe_slopes: Floats
    """Shape (P, 3, 2): change of opacity times colours per pixel to the right and down."""
    opacity_slopes: Floats
    """Shape (P, 2): the same of the opacity."""
    centre: Floats
    """Shape (2,): the point that the foot is turned about."""
    sole: Floats
    """Shape (S, 2): lowest shoe pixel of each column."""
    mask: Mask
    """Shape (H, W): shoe pixels."""


@dataclass(frozen=True, slots=True)
class PatchRegion:
    """Where one end of the foot may be, in window coordinates and metres."""

    tip: Floats
    """Pose's toe (or heel, for the other end) in the standing picture, shape (2,)."""
    other: Floats
    """Pose's point at the other end of the foot."""
    px_per_m: float
    height_m: float
    """How much of the foot above the sole belongs to the patch."""
    behind_m: float = 0.05
    """How much of it lies between the tip and the other end."""
    ahead_m: float = 0.085
    """Pose's tip lies inside the shoe: so much of it may lie beyond."""
    half_width_m: float = 0.075
    """Used where the foot points at the camera."""

    @property
    def direction(self) -> int:
        """Side of the picture to which the tip points: 1 right, -1 left, 0 at the camera."""
        ahead = float(self.tip[0] - self.other[0])
        return 0 if abs(ahead) <= 0.07 * self.px_per_m else int(np.sign(ahead))


@dataclass(frozen=True, slots=True)
class ShadowLook:
    """What ground in a shadow looks like, as shares of what it is in the light."""

    darkest: float
    most_coloured: float
    """Difference between the colours' shares."""
    is_deep: bool
    """Unlike any picture of the ground: however little is left without it is shoe, and the shaded
    ground tells nothing."""


SOFT_SHADOW = ShadowLook(0.55, 0.10, is_deep=False)
"""In a hall, or under a cloudy sky."""
SUN_SHADOW = ShadowLook(0.20, 0.15, is_deep=True)
"""In the sun only the blue sky lights what lies in a shadow. Dark shoes look like that as well."""
LEAST_LEFT = 0.25
"""Of what differs from the bare ground at the foot, shoe is this much at least: where less is left,
the shoe was taken for a soft shadow."""


def threshold_grey(difference: Picture) -> float:
    """Give the difference, in grey levels, above which a pixel is not bare ground."""
    noise = 1.4826 * float(np.median(difference))
    return float(np.clip(6 * noise, 14.0, 30.0))


def shoe_masks(
    reference: Picture, background: Background, *, shadow: ShadowLook = SOFT_SHADOW
) -> tuple[Mask, Mask]:
    """Tell shoe from ground in a standing picture.

    Parameters
    ----------
    reference : ndarray of shape (H, W, 3)
    background : Background
    shadow : ShadowLook, optional

    Returns
    -------
    changed, shoe : ndarray of shape (H, W)
        All that differs from the bare ground by more than its noise, and the same without what
        is merely darker, as a shadow is. Dark shoes on grey ground may vanish from the second.
    """
    difference = np.abs(reference - background.picture)
    changed = (largest_colour(difference) > threshold_grey(difference)) & background.seen
    ratio = (reference + 8) / (background.picture + 8)
    red, green, blue = np.moveaxis(ratio, -1, 0)
    middle = (red + green + blue) / 3
    spread = largest_colour(ratio) + largest_colour(-ratio)
    shaded = (middle < 1.02) & (middle > shadow.darkest) & (spread < shadow.most_coloured)
    return changed, changed & ~shaded


def column_band(region: PatchRegion, shape: tuple[int, int]) -> Mask:
    """Give the columns of the window that this end of the foot may take, shape (H, W)."""
    ahead = np.arange(shape[1])[None, :] - region.tip[0]
    unit = region.px_per_m
    if region.direction:
        ahead = ahead * region.direction
        inside = (ahead < region.ahead_m * unit) & (ahead > -region.behind_m * unit)
    else:
        inside = np.abs(ahead) < region.half_width_m * unit
    band: Mask = np.broadcast_to(inside, shape).copy()
    return band


def find_foot_end(
    changed: Mask, shoe: Mask, *, region: PatchRegion, shadow: ShadowLook = SOFT_SHADOW
) -> tuple[Mask, Mask] | None:
    """Find the pixels of this end of the foot near pose's point.

    Parameters
    ----------
    changed, shoe : ndarray of shape (H, W)
        From :func:`shoe_masks`.
    region : PatchRegion
    shadow : ShadowLook, optional
        As the masks were told by.

    Returns
    -------
    (forefoot, body) or None
        Pixels of the forefoot and the mask it was cut from; None where there are too few.
    """
    band = column_band(region, (shoe.shape[0], shoe.shape[1]))
    rows = np.arange(shoe.shape[0])[:, None]
    near = band & (np.abs(rows - region.tip[1]) < 0.09 * region.px_per_m)
    few = 0.0015 * region.px_per_m**2
    least_left = 0.0 if shadow.is_deep else LEAST_LEFT
    enough = (shoe & near).sum() > max(least_left * (changed & near).sum(), few)
    body = _without_specks(shoe if enough else changed)
    filled = np.flatnonzero((body & near).sum(axis=1) >= 3)
    if filled.size < 3:
        return None
    lowest = filled.max()
    top = lowest - region.height_m * region.px_per_m
    forefoot = _large_parts(body & band & (rows > top) & (rows <= lowest))
    return (forefoot, body) if forefoot.sum() > 0.0008 * region.px_per_m**2 else None


def _grown(mask: Mask, reach: int) -> Mask:
    """Grow a mask by a square that reaches so many pixels to each side."""
    grown: Mask = maximum_filter(mask, 2 * reach + 1, mode="constant")
    return grown


def _without_specks(mask: Mask) -> Mask:
    """Keep what is at least three pixels wide and high; the window's border counts as outside."""
    return _grown(minimum_filter(mask, 3, mode="constant"), 1)


def _large_parts(mask: Mask, *, share: float = 0.2) -> Mask:
    """Keep the connected parts that have at least a share of the largest one's pixels."""
    parts, count = label(mask, structure=np.ones((3, 3)))
    if count <= 1:
        return mask
    sizes = np.bincount(parts.ravel())[1:]
    kept: Mask = np.isin(parts, 1 + np.flatnonzero(sizes > share * sizes.max()))
    return kept


def cut_patch(reference: Picture, *, forefoot: Mask, rim: Mask) -> Patch:
    """Cut the patch out of the standing picture.

    Parameters
    ----------
    reference : ndarray of shape (H, W, 3)
    forefoot : ndarray of shape (H, W)
    rim : ndarray of shape (H, W)
        Pixels that take part in the comparison: the forefoot and the bare ground about it.

    Returns
    -------
    Patch
    """
    rows, columns = np.nonzero(rim)
    soft = gaussian_filter(forefoot.astype(np.float32), 0.6)[:, :, None]
    opacity = soft[rows, columns]
    inside_rows, inside_columns = np.nonzero(forefoot)
    sole_columns = np.flatnonzero(forefoot.any(axis=0))
    lowest = [np.flatnonzero(forefoot[:, column]).max() for column in sole_columns]
    return Patch(
        points=np.stack([columns, rows], axis=1).astype(np.float64),
        colours=reference[rows, columns].astype(np.float64),
        opacity=opacity.astype(np.float64),
        shoe_slopes=_slopes_at(soft * reference, rows, columns),
        opacity_slopes=_slopes_at(soft, rows, columns)[:, 0],
        centre=np.array([inside_columns.mean(), inside_rows.mean()]),
        sole=np.stack([sole_columns, lowest], axis=1).astype(np.float64),
        mask=forefoot,
    )


def _slopes_at(picture: Picture, rows: Rows, columns: Rows) -> Floats:
    """Slopes at some pixels, shape (P, C, 2)."""
    top, left = max(rows.min() - 2, 0), max(columns.min() - 2, 0)
    part = picture[top : rows.max() + 3, left : columns.max() + 3]
    at = [one[rows - top, columns - left] for one in slopes(part)]
    both: Floats = np.stack(at, axis=-1).astype(np.float64)
    return both


def first_patch(
    reference: Picture, masks: tuple[Mask, Mask], background: Background, *, region: PatchRegion,
    shadow: ShadowLook = SOFT_SHADOW,
) -> tuple[Patch, Mask, Mask] | None:  # fmt: skip
    """Cut the first patch, from brightness alone.

    Parameters
    ----------
    reference : ndarray of shape (H, W, 3)
    masks : tuple of two ndarray of shape (H, W)
        What :func:`shoe_masks` made of it.
    background : Background
    region : PatchRegion
    shadow : ShadowLook, optional
        As the masks were told by.

    Returns
    -------
    (patch, changed, other) or None
        ``changed`` is all that differs from bare ground, ``other`` what belongs to another part
        of the body and must stay out of the rim.
    """
    changed, shoe = masks
    found = find_foot_end(changed, shoe, region=region, shadow=shadow)
    if found is None:
        return None
    forefoot, _ = found
    rows = np.arange(forefoot.shape[0])[:, None]
    lowest = np.nonzero(forefoot)[0].max()
    above_sole = np.broadcast_to(rows < lowest - 0.02 * region.px_per_m, forefoot.shape)
    foreign = changed & ~forefoot
    other = _grown(foreign if shadow.is_deep else foreign & (shoe | above_sole), 1)
    wide = _grown(forefoot, 4)
    rim = wide & (forefoot | ~other) & background.seen
    return cut_patch(reference, forefoot=forefoot, rim=rim), changed, other


def reassign_patch(
    reference: Picture, evidence: Floats, *, region: PatchRegion, changed: Mask, other: Mask
) -> Patch | None:
    """Cut the patch again by what moved with the shoe and what stayed with the ground.

    Parameters
    ----------
    reference : ndarray of shape (H, W, 3)
    evidence : ndarray of shape (H, W)
        Grey levels by which the ground explains the moving foot's pixels worse than the shoe
        does: positive on the shoe, negative on ground and shadow, 0 where not known.
    region : PatchRegion
    changed, other : ndarray of shape (H, W)
        From :func:`first_patch`.

    Returns
    -------
    Patch or None
        None where too few pixels moved with the shoe.
    """
    forefoot = _large_parts(_without_specks(evidence > 2.5))
    if forefoot.sum() < 0.0012 * region.px_per_m**2:
        return None
    wide = _grown(forefoot, 3)
    ground = (evidence < -1.0) | ~changed
    return cut_patch(reference, forefoot=forefoot, rim=forefoot | (wide & ground & ~other))
