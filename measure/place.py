"""Leave out how the athlete comes from the phone to her place and goes back to it.

Who films alone starts the phone, walks to where she jumps and walks back: in the picture she is
twice as large there, on a floor of its own, and nothing of it is of use.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from measure.types import FOOT_LANDMARKS, Floats, Landmark, PoseTrack

__all__ = ["rows_at_place"]

NEARER_RATIO = 1.3
"""Who seems so much larger than at her place is on the way to the phone or from it."""
SHOULDERS = (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
SAME_SIZE_RATIO = 1.1
"""Sizes that differ by less are of one place."""


def rows_at_place(track: PoseTrack) -> NDArray[np.bool_]:
    """Leave out the first and the last rows in which the athlete is much nearer than mostly.

    Parameters
    ----------
    track : PoseTrack

    Returns
    -------
    ndarray of bool, shape (T,)
        All true where she is never that near, or in the middle only.

    Notes
    -----
    Wrong where she stands at the phone for longer than at her place: nothing is left out then.
    """
    size_px = _size_px(track)
    stays = np.ones(size_px.shape, dtype=np.bool_)
    seen = np.flatnonzero(np.isfinite(size_px))
    if seen.size == 0:
        return stays
    at_place = seen[size_px[seen] <= NEARER_RATIO * _usual(size_px[seen])]
    if at_place[0] > seen[0]:
        stays[: at_place[0]] = False
    if at_place[-1] < seen[-1]:
        stays[at_place[-1] + 1 :] = False
    return stays


def _size_px(track: PoseTrack) -> Floats:
    """Pixels per metre of the model's own guess of the body, shape (T,); NaN where not seen.

    Whoever crouches before the camera is foreshortened in both, and seems no smaller by it.
    """
    parts = [
        (part, next_part)
        for leg, shoulder in zip(FOOT_LANDMARKS.values(), SHOULDERS, strict=True)
        for part, next_part in ((shoulder, leg.hip), (leg.hip, leg.knee), (leg.knee, leg.ankle))
    ]
    ends, others = (list(points) for points in zip(*parts, strict=True))
    px = np.linalg.norm(track.px[:, ends] - track.px[:, others], axis=-1)
    guess_m = track.world_m[:, ends, :2] - track.world_m[:, others, :2]
    size: Floats = px.sum(axis=1) / np.linalg.norm(guess_m, axis=-1).sum(axis=1)
    return size


def _usual(size_px: Floats) -> float:
    """The size that most rows have, more or less."""
    ordered = np.sort(size_px)
    count = np.searchsorted(ordered, ordered * SAME_SIZE_RATIO, side="right") - np.arange(
        ordered.size
    )
    start = int(np.argmax(count))
    return float(np.median(ordered[start : start + int(count[start])]))
