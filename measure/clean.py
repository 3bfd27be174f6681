"""Take wild points out of a pose track, bridge short gaps, smooth lightly.

Everything is off line and symmetric in time, so nothing is delayed, and works in seconds, so
uneven timestamps and skipped frames are met. Nothing reaches across a gap that is not bridged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from measure.types import Landmark, PoseTrack

__all__ = ["CleanSettings", "clean_track"]

Floats = NDArray[np.float64]

_MAD_TO_SIGMA = 1.4826
_NEEDED = 3
"""Rows on which a parabola can stand."""
_COUNTS = 1e-6
"""A row of less weight, at the very edge of what is in reach, holds none."""


@dataclass(frozen=True, slots=True)
class CleanSettings:
    """How strongly a track is cleaned. Times are seconds of the clock that is passed in."""

    half_width_s: float = 0.05
    """Where the smoothing weight reaches zero; half of it is reached at three fifths."""
    fill_up_to_s: float = 0.1
    """Longest time between two seen rows that is bridged."""
    look_around_s: float = 0.15
    """Reach of the parabola that bridges gaps and judges wild points."""
    wild_sigmas: float = 8.0
    """A point is wild when it misses the parabola through its neighbours by this many ordinary
    misses of the same landmark ..."""
    wild_trunks: float = 0.2
    """... and by this part of the trunk's length."""


def clean_track(
    track: PoseTrack, *, time_s: Floats | None = None, settings: CleanSettings | None = None
) -> PoseTrack:
    """Remove wild points, bridge gaps, smooth by a parabola that slides in time.

    Parameters
    ----------
    track : PoseTrack
        As the pose model left it; NaN where the athlete was not seen.
    time_s : ndarray of shape (T,), optional
        Real time of the rows, increasing. Without it file time is used: right unless the file
        plays slow.
    settings : CleanSettings, optional
        Widths and limits.

    Returns
    -------
    PoseTrack
        ``px`` and ``world_m`` cleaned. ``visibility`` is left as it was, so that a bridged row
        still says that it was not seen.

    Raises
    ------
    ValueError
        When ``time_s`` has not one increasing value per row.

    Notes
    -----
    Each row becomes the value of a parabola fitted to its neighbours with tricube weights
    (Cleveland 1979, doi:10.1080/01621459.1979.10481038). Free flight and everything else up to
    constant acceleration passes unchanged; a 3 Hz oscillation loses less than 1 %. Below 40 rows
    per second only the two next neighbours are in reach and rows pass unchanged. Wrong within
    30 ms of an impact, whose corner is rounded: contact is timed on the picture, not here.
    """
    settings = settings or CleanSettings()
    time_s = track.file_time_s if time_s is None else np.asarray(time_s, dtype=np.float64)
    if time_s.shape != track.file_time_s.shape or np.any(np.diff(time_s) <= 0):
        raise ValueError(
            f"time_s: expected shape {track.file_time_s.shape} and increasing, "
            f"got shape {time_s.shape}"
        )
    wild = _wild(track.px, time_s, _trunk_px(track), settings)
    px = np.where(wild[:, :, None], np.nan, track.px)
    world_m = np.where(wild[:, :, None], np.nan, track.world_m)
    return replace(
        track, px=_smooth(px, time_s, settings), world_m=_smooth(world_m, time_s, settings)
    )


def _wild(
    px: Floats, time_s: Floats, trunk_px: float, settings: CleanSettings
) -> NDArray[np.bool_]:
    """Points far from the parabola through their neighbours, shape (T, L)."""
    around = _fit(px, time_s, settings.look_around_s, without_self=True)
    miss_px = np.hypot(*np.moveaxis(px - around, -1, 0))
    known = np.isfinite(miss_px)
    usual_px = np.array([
        _MAD_TO_SIGMA * np.median(column[seen]) if seen.any() else 0.0
        for column, seen in zip(miss_px.T, known.T, strict=True)
    ])  # fmt: skip
    limit_px = np.maximum(settings.wild_sigmas * usual_px, settings.wild_trunks * trunk_px)
    return np.asarray(known & (np.where(known, miss_px, 0.0) > limit_px), dtype=np.bool_)


def _smooth(values: Floats, time_s: Floats, settings: CleanSettings) -> Floats:
    """Bridge short gaps, then slide the parabola along; values of shape (T, L, C)."""
    seen = np.isfinite(values[..., 0])
    bridge = ~seen & (_gap_s(seen, time_s) <= settings.fill_up_to_s)
    bridged = _fit(values, time_s, settings.look_around_s)
    filled = np.where(bridge[..., None], bridged, values)
    smooth = _fit(filled, time_s, settings.half_width_s)
    usable = np.isfinite(smooth) & np.isfinite(filled)
    return np.where(usable, smooth, filled)


def _gap_s(seen: NDArray[np.bool_], time_s: Floats) -> Floats:
    """Time between the seen rows on both sides of each row, infinite at the ends, shape (T, L)."""
    times = np.broadcast_to(time_s[:, None], seen.shape)
    before = np.maximum.accumulate(np.where(seen, times, -np.inf), axis=0)
    after = np.minimum.accumulate(np.where(seen, times, np.inf)[::-1], axis=0)[::-1]
    return np.asarray(after - before, dtype=np.float64)


def _fit(
    values: Floats, time_s: Floats, half_width_s: float, *, without_self: bool = False
) -> Floats:
    """Value at each row of the tricube-weighted parabola through its neighbours.

    NaN where fewer than three seen rows are in reach. The normal equations of all rows are
    gathered by sparse products, so that each landmark may miss rows of its own.
    """
    rows, points, axes = values.shape
    seen = np.isfinite(values).all(axis=-1)
    flat = np.where(seen[..., None], values, 0.0).reshape(rows, points * axes)
    weights = _weights(time_s, half_width_s, without_self=without_self)
    moments = [(w @ seen.astype(np.float64)) for w in weights]
    sums = [(w @ flat).reshape(rows, points, axes) for w in weights[:3]]
    normal = np.stack([np.stack([moments[i + j] for j in range(3)], -1) for i in range(3)], -2)
    in_reach = (weights[0] > _COUNTS).astype(np.float64) @ seen
    enough = in_reach >= _NEEDED
    normal = np.where(enough[..., None, None], normal, np.eye(3))
    fitted = np.linalg.solve(normal, np.stack(sums, axis=-2))[..., 0, :]
    return np.where(enough[..., None], fitted, np.nan)


def _weights(time_s: Floats, half_width_s: float, *, without_self: bool) -> list[sparse.csr_matrix]:
    """Tricube weights times the zeroth to fourth power of the scaled time difference."""
    first = np.searchsorted(time_s, time_s - half_width_s, side="right")
    count = np.searchsorted(time_s, time_s + half_width_s, side="left") - first
    row = np.repeat(np.arange(time_s.size), count)
    column = np.arange(row.size) - np.repeat(np.cumsum(count) - count - first, count)
    ahead = (time_s[column] - time_s[row]) / half_width_s
    weight = (1 - np.abs(ahead) ** 3) ** 3
    if without_self:
        weight = np.where(row == column, 0.0, weight)
    shape = (time_s.size, time_s.size)
    return [sparse.csr_matrix((weight * ahead**p, (row, column)), shape=shape) for p in range(5)]


def _trunk_px(track: PoseTrack) -> float:
    """Median length of the trunk, zero where it is never seen."""
    shoulders = track.px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]].mean(axis=1)
    hips = track.px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1)
    length = np.hypot(*(shoulders - hips).T)
    length = length[np.isfinite(length)]
    return float(np.median(length)) if length.size else 0.0
