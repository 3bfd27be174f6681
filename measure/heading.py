"""Which way the body faces, from its own lines: shoulders, hips, ears and feet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from measure.types import Floats, Landmark, PoseTrack

__all__ = ["HEADING_CUES", "mean_heading", "measure_headings"]

_LINES = (
    (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER),
    (Landmark.LEFT_HIP, Landmark.RIGHT_HIP),
    (Landmark.LEFT_EAR, Landmark.RIGHT_EAR),
)
_FEET = ((Landmark.LEFT_HEEL, Landmark.LEFT_TOE), (Landmark.RIGHT_HEEL, Landmark.RIGHT_TOE))
HEADING_CUES = ("shoulders", "hips", "ears", "feet")
"""What each column of `measure_headings` rests on."""


def measure_headings(track: PoseTrack) -> NDArray[np.complex128]:
    """Give the direction in which each part of the body faces, on the floor seen from above.

    Parameters
    ----------
    track : PoseTrack
        Its ``world_m`` is used; legs restored, cleaned.

    Returns
    -------
    ndarray of shape (T, 4), complex
        Unit vectors exp(i a), columns as in ``HEADING_CUES``; a is 0 facing the camera and grows
        as the athlete turns to her left. NaN where not seen.

    Notes
    -----
    A line from right to left gives the heading square to it, a foot its own length. *When this
    is wrong*: the model's depth is a guess, and a heading side-on to the camera may be 20
    degrees off; twisting of the trunk against the hips shows as a spread of the cues.
    """
    floor = track.world_m[..., 0] + 1j * track.world_m[..., 2]
    lines = [floor[:, left] - floor[:, right] for left, right in _LINES]
    # A foot points where the body faces: a quarter turn from the line between left and right.
    feet = sum(floor[:, toe] - floor[:, heel] for heel, toe in _FEET)
    cues = np.stack([*lines, 1j * np.asarray(feet)], axis=1)
    length = np.abs(cues)
    return np.where(length > 0, cues / np.where(length > 0, length, 1.0), np.nan)


def mean_heading(headings: NDArray[np.complex128]) -> Floats:
    """Give the mean direction over the last axis, degrees.

    Parameters
    ----------
    headings : ndarray of shape (..., N), complex
        Unit vectors; NaN counts as unseen.

    Returns
    -------
    ndarray of shape (...)
        Degrees, -180 to 180; NaN where nothing is seen.
    """
    seen = np.isfinite(headings)
    total = np.where(seen, headings, 0).sum(axis=-1)
    return np.where(seen.any(axis=-1), np.degrees(np.angle(total)), np.nan)
