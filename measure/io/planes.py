"""Planes of a stored picture as arrays, and rectangles of it without any conversion."""

from __future__ import annotations

from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

__all__ = ["Samples", "cut_planes", "is_planar_yuv", "plane_of", "spare_bits"]

Samples = NDArray[Any]
"""Stored brightness or colour, 8 or 16 bits a sample."""


def is_planar_yuv(picture: av.VideoFrame) -> bool:
    """Tell whether brightness and each colour lie in a plane of their own."""
    layout = picture.format
    components = layout.components
    return bool(
        layout.name.startswith("yuv")
        and layout.is_planar
        and len({part.plane for part in components}) == len(components)
        and not layout.is_big_endian
    )


def spare_bits(picture: av.VideoFrame, number: int) -> int:
    """How many bits a sample has beyond eight."""
    return max(int(picture.format.components[number].bits) - 8, 0)


def plane_of(picture: av.VideoFrame, number: int) -> Samples:
    """One plane of a planar picture as an array without its padding; no copy."""
    plane = picture.planes[number]
    kind = np.uint16 if spare_bits(picture, number) else np.uint8
    samples: Samples = np.frombuffer(memoryview(plane), dtype=np.dtype(kind))
    rows = samples.reshape(-1, plane.line_size // samples.itemsize)
    return rows[: plane.height, : plane.width]


def cut_planes(picture: av.VideoFrame, x0: int, y0: int, x1: int, y1: int) -> av.VideoFrame:
    """Rectangle of a planar picture as an 8-bit picture of its own; all edges even.

    The converter takes one way for even 8-bit pictures and others, with other colour
    interpolation, for the rest: brought to one form, a part equals the whole to the last bit.
    """
    whole = (x0, y0) == (0, 0) and (x1, y1) == (picture.width, picture.height)
    if whole and not spare_bits(picture, 0):
        return picture
    part = av.VideoFrame(x1 - x0, y1 - y0, f"{picture.format.name.partition('p')[0]}p")
    for number in range(len(picture.planes)):
        source, target = plane_of(picture, number), plane_of(part, number)
        # A plane of colour holds one sample for one or two pixels.
        across = round(picture.width / source.shape[1])
        down = round(picture.height / source.shape[0])
        source = source[y0 // down :, x0 // across :][: target.shape[0], : target.shape[1]]
        rows, columns = source.shape
        target[:rows, :columns] = source >> spare_bits(picture, number)
        target[rows:] = target[rows - 1]  # beyond an odd edge
        target[:, columns:] = target[:, columns - 1 : columns]
    part.colorspace, part.color_range = picture.colorspace, picture.color_range
    return part
