"""One event's pictures on their way from the film to where they are looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.contacts.background import fit_background
from measure.contacts.light import flickers, in_even_light, light_on
from measure.contacts.trace import EventPictures
from measure.types import Floats

__all__ = ["BLUR_PX", "CutPictures"]

Bytes = NDArray[np.uint8]

BLUR_PX = 0.8
"""Takes the coder's blocks and the sensor's noise down before pixels are compared."""
BLUR_SIDE = 7
"""Pixels over which it reaches; farther out it is nothing."""


@dataclass(frozen=True)
class CutPictures:
    """One event's pictures as they were cut out: a quarter of the memory they take later."""

    pictures: list[Bytes]
    time_s: Floats
    reference_row: int
    ground: list[Bytes]
    covers: list[NDArray[np.bool_]]
    """Where legs stand before each picture of the ground."""
    toe_px: Floats
    heel_px: Floats
    px_per_m: float

    def ready(self) -> EventPictures:
        """Blur the pictures as they are compared, and find the ground behind the foot."""
        pictures, ground, covers = _blurred(self.pictures), _blurred(self.ground), self.covers
        background = fit_background(ground, np.stack(covers))
        if flickers(pictures, background.picture):
            ground = in_even_light(ground, light_on(ground, background.picture))
            background = fit_background(ground, np.stack(covers))
            pictures = in_even_light(pictures, light_on(pictures, background.picture))
        return EventPictures(
            pictures=pictures, time_s=self.time_s, background=background,
            reference_row=self.reference_row, toe_px=self.toe_px, heel_px=self.heel_px,
            px_per_m=self.px_per_m,
        )  # fmt: skip


def _blurred(cuts: Sequence[Bytes]) -> NDArray[np.float32]:
    """Give pictures as they are compared: four times the memory, so only while they are."""
    blurred = np.empty((len(cuts), *cuts[0].shape), np.float32)
    for cut, target in zip(cuts, blurred, strict=True):
        cv2.GaussianBlur(
            cut.astype(np.float32), (BLUR_SIDE, BLUR_SIDE), BLUR_PX, dst=target,
            borderType=cv2.BORDER_REFLECT,
        )  # fmt: skip
    return blurred
