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
    """Trunk and the longer leg, bent or not, shape (T,); NaN where not seen."""
    px = track.px
    shoulders = px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]].mean(axis=1)
    hips = px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1)
    legs = [
        np.hypot(*(px[:, leg.hip] - px[:, leg.knee]).T)
        + np.hypot(*(px[:, leg.knee] - px[:, leg.ankle]).T)
        for leg in FOOT_LANDMARKS.values()
    ]
    size: Floats = np.hypot(*(shoulders - hips).T) + np.fmax(*legs)
    return size


def _usual(size_px: Floats) -> float:
    """The size that most rows have, more or less."""
    ordered = np.sort(size_px)
    count = np.searchsorted(ordered, ordered * SAME_SIZE_RATIO, side="right") - np.arange(
        ordered.size
    )
    start = int(np.argmax(count))
    return float(np.median(ordered[start : start + int(count[start])]))
