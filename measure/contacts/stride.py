"""How long to make the steps of a search whose slopes are not quite those of the picture."""

from __future__ import annotations

import numpy as np

from measure.types import Floats

__all__ = ["Stride"]

LONGEST_STEP = np.array([2.0, 2.0, 0.15])
"""Pixels right and down, radians, in one step of the search."""
EQUAL_STEP = np.array([1.0, 1.0, 0.05])
"""A turn by so many radians moves the rim of a forefoot about as far as a pixel."""


class Stride:
    """Learns on the way by how much steps fall short (Broyden's method).

    A moving shoe is blurred: its slopes are flatter than those of the standing one that the steps
    are worked out with, and each step would leave a third or a half of the way to the next.
    """

    def __init__(self) -> None:
        self._factor = np.eye(3)
        self._before: Floats | None = None
        self._went = np.zeros(3)

    def lengthened(self, step: Floats) -> Floats:
        """Give the step to take instead of one that was worked out."""
        scaled = step / EQUAL_STEP
        if self._before is not None:
            shrunk = self._before - scaled
            reached = self._factor @ shrunk
            along = float(self._went @ reached)
            if along > 0.1 * float(self._went @ self._went):
                missed = self._went - reached
                self._factor += missed[:, None] * (self._went @ self._factor) / along
        self._before = scaled
        went = self._factor @ scaled * EQUAL_STEP
        self._went = np.minimum(np.maximum(went, -LONGEST_STEP), LONGEST_STEP) / EQUAL_STEP
        taken: Floats = self._went * EQUAL_STEP
        return taken
