"""One decoded picture: upright views of it, each converting no more than it needs.

Positions are edge-based pixels of the upright picture. Rotation is folded into what is cut out,
so a portrait film costs no more than a landscape one.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Any

import av
import cv2
import numpy as np
from av.video.reformatter import VideoReformatter
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Samples = NDArray[Any]
"""Stored brightness or colour, 8 or 16 bits a sample."""
Floats = NDArray[np.float64]

TURNS = {90: cv2.ROTATE_90_CLOCKWISE, 180: cv2.ROTATE_180, 270: cv2.ROTATE_90_COUNTERCLOCKWISE}


@dataclass(frozen=True, slots=True)
class Frame:
    """One picture of a clip with the moment the file gives it."""

    index: int
    """Number in presentation order, counted from the clip's first frame."""
    file_time_s: float
    """Seconds of file time since the first frame's timestamp."""
    rotation_deg: int
    """Clockwise turn that makes the stored picture upright: 0, 90, 180 or 270."""
    picture: av.VideoFrame = field(repr=False)
    """The stored picture as decoded, before turning."""

    @property
    def reformatter(self) -> VideoReformatter:
        """Converter of the calling thread."""
        return _reformatter()

    @property
    def width_px(self) -> int:
        """Width of the upright picture."""
        return self.picture.height if self.rotation_deg % 180 else self.picture.width

    @property
    def height_px(self) -> int:
        """Height of the upright picture."""
        return self.picture.width if self.rotation_deg % 180 else self.picture.height

    def rgb(self) -> Bytes:
        """Whole upright picture.

        Returns
        -------
        ndarray of shape (H, W, 3), uint8
            Red, green, blue, 0 to 255.
        """
        return self._upright(self._converted(0, 0, self.picture.width, self.picture.height))

    def rgb_box(self, left: int, top: int, right: int, bottom: int) -> Bytes:
        """Upright rectangle, clipped to the picture; only that part is converted.

        Parameters
        ----------
        left, top, right, bottom : int
            Edges in upright pixels; right and bottom are not included.

        Returns
        -------
        ndarray of shape (bottom - top, right - left, 3), uint8
            After clipping; its first pixel is at ``max(left, 0), max(top, 0)``.

        Raises
        ------
        ValueError
            When nothing of the rectangle lies inside the picture.
        """
        left, top = max(left, 0), max(top, 0)
        right, bottom = min(right, self.width_px), min(bottom, self.height_px)
        if left >= right or top >= bottom:
            raise ValueError(
                f"rectangle: expected a part inside {self.width_px}x{self.height_px}, "
                f"got {left, top, right, bottom}"
            )
        corners = np.array([[left, right], [top, bottom], [1, 1]], dtype=float)
        stored = np.sort(np.rint(self._stored_from_upright() @ corners), axis=1).astype(int)
        (x0, x1), (y0, y1) = stored
        return self._upright(self._converted(x0, y0, x1, y1))

    def warp(self, upright_from_crop: Floats, *, size_px: int) -> Bytes:
        """Square cut out of the upright picture along any affine map, bilinear.

        Parameters
        ----------
        upright_from_crop : ndarray of shape (2, 3)
            Takes a point of the crop to a point of the upright picture, both in edge-based
            pixels: the centre of the crop's first pixel is (0.5, 0.5).
        size_px : int
            Width and height of the crop.

        Returns
        -------
        ndarray of shape (size_px, size_px, 3), uint8
            RGB; beyond the picture its border pixels are repeated.
        """
        matrix = self._stored_from_upright() @ np.vstack([upright_from_crop, [0.0, 0.0, 1.0]])
        corners = matrix @ np.array([[0, size_px, 0, size_px], [0, 0, size_px, size_px], [1] * 4])
        width, height = self.picture.width, self.picture.height
        # Two pixels more than the crop: bilinear reads one neighbour. A crop wholly outside still
        # needs the border that is repeated.
        x0, y0 = np.clip(np.floor(corners.min(axis=1)).astype(int) - 2, 0, [width - 1, height - 1])
        x1, y1 = np.clip(np.ceil(corners.max(axis=1)).astype(int) + 2, [x0 + 1, y0 + 1],
                         [width, height])  # fmt: skip
        part = self._converted(int(x0), int(y0), int(x1), int(y1))
        # cv2 puts a pixel's centre on whole numbers, this package on halves.
        centred = matrix.copy()
        centred[:, 2] += matrix[:, :2] @ [0.5, 0.5] - 0.5 - np.array([x0, y0])
        return np.asarray(
            cv2.warpAffine(
                part, centred, (size_px, size_px),
                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
            ),
            dtype=np.uint8,
        )  # fmt: skip

    def grey_small(self, step: int) -> Bytes:
        """Brightness averaged over squares of ``step`` pixels, without any colour conversion.

        Parameters
        ----------
        step : int
            Side of the square in upright pixels. What is left over at the right and bottom edge
            is dropped.

        Returns
        -------
        ndarray of shape (H // step, W // step), uint8
            Luma as stored (0 to 255, or 16 to 235 in most films); 10 bits are cut to 8.
        """
        turns = self.rotation_deg // 90
        picture = self._planar()
        upright = np.rot90(_plane(picture, 0), -turns)  # a view: nothing is copied
        rows, columns = upright.shape[0] // step, upright.shape[1] // step
        if min(rows, columns) < 1:
            raise ValueError(f"step: expected at most the picture's shorter side, got {step}")
        stored = np.rot90(upright[: rows * step, : columns * step], turns)
        small = shrink(stored, step)
        eight_bits = (small >> _spare_bits(picture, 0)).astype(np.uint8)
        return np.ascontiguousarray(np.rot90(eight_bits, -turns))

    def _planar(self) -> av.VideoFrame:
        if _is_planar_yuv(self.picture):
            return self.picture
        return _reformatter().reformat(self.picture, format="yuv420p", threads=1)

    def _stored_from_upright(self) -> Floats:
        width, height = self.picture.width, self.picture.height
        maps = {
            0: [[1, 0, 0], [0, 1, 0]],
            90: [[0, 1, 0], [-1, 0, height]],
            180: [[-1, 0, width], [0, -1, height]],
            270: [[0, -1, width], [1, 0, 0]],
        }
        return np.array(maps[self.rotation_deg], dtype=np.float64)

    def _upright(self, stored: Bytes) -> Bytes:
        if self.rotation_deg == 0:
            return np.ascontiguousarray(stored)
        return np.asarray(cv2.rotate(stored, TURNS[self.rotation_deg]), dtype=np.uint8)

    def _converted(self, x0: int, y0: int, x1: int, y1: int) -> Bytes:
        """RGB of a rectangle of the stored picture; the same whatever else is converted with it."""
        # Even edges keep the colour samples where they are in the whole picture.
        left, top = x0 & ~1, y0 & ~1
        part = _cut(self._planar(), left, top, x1 + x1 % 2, y1 + y1 % 2)
        rgb = _reformatter().reformat(part, format="rgb24", threads=1).to_ndarray()
        return np.asarray(rgb[y0 - top : y1 - top, x0 - left : x1 - left], dtype=np.uint8)


_OF_THREAD = threading.local()


def _reformatter() -> VideoReformatter:
    """Converter of the calling thread; it keeps what it worked out for the last size."""
    if not hasattr(_OF_THREAD, "reformatter"):
        _OF_THREAD.reformatter = VideoReformatter()
    reformatter: VideoReformatter = _OF_THREAD.reformatter
    return reformatter


def _is_planar_yuv(picture: av.VideoFrame) -> bool:
    layout = picture.format
    components = layout.components
    return bool(
        layout.name.startswith("yuv")
        and layout.is_planar
        and len({part.plane for part in components}) == len(components)
        and not layout.is_big_endian
    )


def shrink(samples: Samples, step: int) -> Samples:
    """Average squares of ``step`` samples; by halves where that goes, which is far quicker.

    What is left over at the right and bottom edge is dropped.
    """
    rows, columns = samples.shape[0] // step, samples.shape[1] // step
    samples = samples[: rows * step, : columns * step]
    while step > 1:
        part = 2 if step % 2 == 0 else step
        size = (samples.shape[1] // part, samples.shape[0] // part)
        samples = np.asarray(cv2.resize(samples, size, interpolation=cv2.INTER_AREA))
        step //= part
    return samples


def _spare_bits(picture: av.VideoFrame, number: int) -> int:
    """How many bits a sample has beyond eight."""
    return max(int(picture.format.components[number].bits) - 8, 0)


def _plane(picture: av.VideoFrame, number: int) -> Samples:
    """One plane of a planar picture as an array without its padding; no copy."""
    plane = picture.planes[number]
    kind = np.uint16 if _spare_bits(picture, number) else np.uint8
    samples: Samples = np.frombuffer(memoryview(plane), dtype=np.dtype(kind))
    rows = samples.reshape(-1, plane.line_size // samples.itemsize)
    return rows[: plane.height, : plane.width]


def _cut(picture: av.VideoFrame, x0: int, y0: int, x1: int, y1: int) -> av.VideoFrame:
    """Rectangle of a planar picture as an 8-bit picture of its own; all edges even.

    The converter takes one way for even 8-bit pictures and others, with other colour
    interpolation, for the rest: brought to one form, a part equals the whole to the last bit.
    """
    whole = (x0, y0) == (0, 0) and (x1, y1) == (picture.width, picture.height)
    if whole and not _spare_bits(picture, 0):
        return picture
    part = av.VideoFrame(x1 - x0, y1 - y0, f"{picture.format.name.partition('p')[0]}p")
    for number in range(len(picture.planes)):
        source, target = _plane(picture, number), _plane(part, number)
        # A plane of colour holds one sample for one or two pixels.
        across = round(picture.width / source.shape[1])
        down = round(picture.height / source.shape[0])
        source = source[y0 // down :, x0 // across :][: target.shape[0], : target.shape[1]]
        rows, columns = source.shape
        target[:rows, :columns] = source >> _spare_bits(picture, number)
        target[rows:] = target[rows - 1]  # beyond an odd edge
        target[:, columns:] = target[:, columns - 1 : columns]
    part.colorspace, part.color_range = picture.colorspace, picture.color_range
    return part
