"""What the tool asks of a pose model, and nothing more.

A back end is one file with one class that satisfies :class:`PoseModel`. To bring a model file of
your own, write such a class (``measure/io/pose_landmarks.py`` is the example): ``detect`` says
where people are, ``landmarks`` reads one person's 33 points inside a region. Map your model's
points to :class:`measure.types.Landmark`, leave what it does not know NaN with visibility 0, and
hand an instance to ``measure.io.athlete.follow_athlete``. Nothing else has to know.

Pixels are edge-based pixels of the upright picture; left and right are the athlete's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

__all__ = ["Landmarks", "Picture", "PoseModel", "Region", "Restful", "region_from_axis"]

Floats = NDArray[np.float64]


class Picture(Protocol):
    """The part of a decoded frame that a pose model may use."""

    @property
    def width_px(self) -> int:
        """Width of the upright picture."""

    @property
    def height_px(self) -> int:
        """Height of the upright picture."""

    def warp(self, upright_from_crop: Floats, *, size_px: int) -> NDArray[np.uint8]:
        """Square RGB crop of shape (size_px, size_px, 3), the picture's border replicated."""


@dataclass(frozen=True, slots=True)
class Region:
    """A turned square in the upright picture in which one person is looked at."""

    centre_px: tuple[float, float]
    size_px: float
    angle_rad: float = 0.0
    """Turn of the square, clockwise on the screen; 0 where the person is upright."""
    score: float = 1.0
    """The detector's belief that a person is here, 0 to 1."""

    def upright_from_crop(self, crop_px: int) -> Floats:
        """Affine map, shape (2, 3), from the crop's edge-based pixels to the picture's."""
        scale = self.size_px / crop_px
        cos, sin = math.cos(self.angle_rad) * scale, math.sin(self.angle_rad) * scale
        half = crop_px / 2
        x, y = self.centre_px
        return np.array([[cos, -sin, x - half * (cos - sin)], [sin, cos, y - half * (sin + cos)]])


@dataclass(frozen=True, slots=True)
class Landmarks:
    """One person's points in one frame."""

    px: Floats
    """Shape (33, 2), upright edge-based pixels."""
    visibility: Floats
    """Shape (33,), 0 to 1."""
    world_m: Floats
    """Shape (33, 3), metres about the middle of the hips, x right, y down, z away."""
    score: float
    """The model's belief that the region holds a person, 0 to 1."""
    axis_px: Floats
    """Shape (2, 2): middle of the hips and a point above it on the circle round the whole body."""


class PoseModel(Protocol):
    """A pose back end: without memory of earlier frames, and for several threads at once."""

    @property
    def name(self) -> str:
        """Name and content hash, kept in the report's versions."""

    def detect(self, picture: Picture, area: Region | None = None) -> list[Region]:
        """Find people in a square part of the picture, or in all of it; best first."""

    def landmarks(self, picture: Picture, region: Region) -> Landmarks | None:
        """Read one person's points, or None where the model sees nobody in the region."""


@runtime_checkable
class Restful(Protocol):
    """A back end that can do without its memory until it is asked again."""

    def rest(self) -> None:
        """Free what can be loaded again."""


def region_from_axis(axis_px: Floats, *, margin: float = 1.25, score: float = 1.0) -> Region:
    """Square about the circle that holds the whole body, turned along it.

    Parameters
    ----------
    axis_px : ndarray of shape (2, 2)
        Middle of the hips, and a point above it on the circle round the whole body.
    margin : float
        Side of the square over the circle's diameter; 1.25 is what the bundled model was
        trained with.
    score : float
        Handed through to the region.
    """
    (x, y), (top_x, top_y) = axis_px
    radius = math.hypot(top_x - x, top_y - y)
    angle = math.atan2(top_x - x, y - top_y)
    return Region((float(x), float(y)), 2 * radius * margin, angle, score)
