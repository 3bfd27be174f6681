"""How far the picture about the place of rest has left the set position."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.io.changes import largest_colour
from measure.io.runner import SetPictures

__all__ = ["change_from_set"]

Floats = NDArray[np.float64]
BLUR_PX = 5
"""A body moves as a patch; the encoder's errors change sign from pixel to pixel."""
SET_S = 0.4
"""The set position is the median of the pictures over this long."""
NOISE_LEVEL = 7.0
"""Smaller differences of colour (0 to 255) are the encoder's."""


def change_from_set(pictures: SetPictures) -> Floats:
    """Summed difference of colour from the set position, in square metres at full contrast.

    Returns
    -------
    ndarray of shape (T,)
    """
    first = pictures.time_s <= pictures.time_s[0] + SET_S
    set_position = np.median(pictures.rgb[first], axis=0).astype(np.float32)
    change = np.empty(pictures.time_s.size)
    for row, picture in enumerate(pictures.rgb):
        apart = np.abs(cv2.blur(picture - set_position, (BLUR_PX, BLUR_PX)))
        change[row] = np.maximum(largest_colour(apart) - NOISE_LEVEL, 0).sum()
    return change / 255 / pictures.px_per_m**2
