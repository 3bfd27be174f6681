"""Find when the athlete stands upright and still, and how tall she is then in the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class StandingSettings:
    """Tunables of `find_standing`; lengths in the athlete's own height in the picture."""

    still_per_row: float = 0.004
    """Nose and heels move less than this between rows. No clock is needed: slow motion makes the
    top of a jump look still too, and there the athlete is as long as she stands."""
    steady_rows: int = 5
    """Over so many rows they are averaged for that: from one look to the next the poses of one who
    stands still tremble by up to 0.01."""
    tall_percentile: float = 90.0
    """Of the still heights: above crouches, below wild rows."""
    upright_band: float = 0.05
    """Heights within this of the tall one count as upright."""
    leap: float = 0.3
    """Nose or heels that move this far from one row to the next now belong to somebody else."""
    fewest_rows: int = 5
    largest_share_above: float = 0.05
    """More still rows than this above the band belong to somebody else."""


@dataclass(frozen=True, slots=True)
class Standing:
    """The athlete standing upright."""

    rows: Flags
    """Shape (T,); True where she stands."""
    height_px: float
    """Of the nose above the lower heel."""
    height_sigma_px: float
    """From the scatter among the rows, as one posture differs from the next."""


def find_standing(
    nose_px: Floats, heels_px: Floats, *, settings: StandingSettings | None = None
) -> Standing | Refused:
    """Find the rows in which the athlete stands upright and still.

    Parameters
    ----------
    nose_px : ndarray of shape (T, 2)
        Nose in the upright picture, y down; NaN where not seen.
    heels_px : ndarray of shape (T, 2, 2)
        Both heels.
    settings : StandingSettings, optional

    Returns
    -------
    Standing or Refused
        Refused where she never stands, or where two people seem to.

    Notes
    -----
    *When this is wrong*: somebody who stays bent through the whole clip reads short. Arms don't
    matter; on tiptoe the heels rise with the nose.
    """
    settings = settings or StandingSettings()
    if nose_px.ndim != 2 or heels_px.shape != (nose_px.shape[0], 2, 2):
        raise ValueError(
            f"heels_px: expected shape ({nose_px.shape[0]}, 2, 2), got {heels_px.shape}"
        )
    heights = np.max(heels_px[:, :, 1], axis=1) - nose_px[:, 1]
    seen = np.isfinite(heights) & (np.nan_to_num(heights) > 0)
    seen &= _longest_run_of_one(nose_px, heels_px, heights, seen, settings)
    still = seen & _still(nose_px, heels_px, heights, settings)
    if still.sum() < settings.fewest_rows:
        return _never("The athlete never stands still with head and heels in the picture.")
    tall_px = float(np.percentile(heights[still], settings.tall_percentile))
    upright = still & (np.abs(np.nan_to_num(heights) / tall_px - 1) <= settings.upright_band)
    above = still & (np.nan_to_num(heights) > tall_px * (1 + settings.upright_band))
    if upright.sum() < settings.fewest_rows:
        return _never("The athlete's standing height in the picture is not the same twice.")
    if above.sum() > settings.largest_share_above * still.sum():
        return _never("The athlete's height in the picture jumps, as if two people were followed.")
    middle, spread = _middle_and_spread(heights[upright])
    return Standing(upright, middle, spread)


def _longest_run_of_one(
    nose: Floats, heels: Floats, heights: Floats, seen: Flags, settings: StandingSettings
) -> Flags:
    """Keep the longest stretch without a leap: the rows in which one person was followed."""
    rows = np.flatnonzero(seen)
    chosen = np.zeros_like(seen)
    if rows.size == 0:
        return chosen
    points = np.concatenate([nose[rows, None, :], heels[rows]], axis=1)
    moved = np.linalg.norm(np.diff(points, axis=0), axis=2).max(axis=1)
    part = np.concatenate([[0], np.cumsum(moved > settings.leap * np.median(heights[rows]))])
    chosen[rows[part == np.bincount(part).argmax()]] = True
    return chosen


def _still(nose: Floats, heels: Floats, heights: Floats, settings: StandingSettings) -> Flags:
    """Tell where neither nose nor heels move."""
    points = _steadied(np.concatenate([nose[:, None, :], heels], axis=1), settings.steady_rows)
    steps = np.linalg.norm(np.diff(points, axis=0), axis=2).max(axis=1)
    both = np.fmax(np.append(steps, np.inf), np.concatenate([[np.inf], steps]))
    either = np.fmin(np.append(steps, np.inf), np.concatenate([[np.inf], steps]))
    edge = ~np.isfinite(both)
    moved = np.where(edge, either, both)
    limit = settings.still_per_row * float(np.nanmedian(heights))
    return np.asarray(np.nan_to_num(moved, nan=np.inf) <= limit)


def _steadied(points: Floats, rows: int) -> Floats:
    """Mean over neighbouring rows in which a point is seen; NaN where the row itself lacks it."""
    half = rows // 2
    padded = np.pad(points, ((half, half), (0, 0), (0, 0)), constant_values=np.nan)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1, axis=0)
    seen = np.isfinite(around)
    total = np.where(seen, around, 0.0).sum(axis=-1)
    return np.where(np.isfinite(points), total / np.maximum(seen.sum(axis=-1), 1), np.nan)


def _middle_and_spread(heights: Floats) -> tuple[float, float]:
    low, middle, high = np.percentile(heights, [16, 50, 84])
    return float(middle), float(high - low) / 2


def _never(reason: str) -> Refused:
    return Refused(
        what="scale",
        reason=reason,
        hint="Stand upright and still for a second before or after the jump, all in the picture.",
    )
