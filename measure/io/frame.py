"""One decoded picture: upright views of it, each converting no more than it needs.

Positions are edge-based pixels of the upright picture. Rotation is folded into what is cut out,
so a portrait film costs no more than a landscape one.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace

import av
import cv2
import numpy as np
from av.video.reformatter import VideoReformatter
from numpy.typing import NDArray

from measure.io.planes import Samples, cut_planes, is_planar_yuv, plane_of, spare_bits

Bytes = NDArray[np.uint8]
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
        x0, y0, x1, y1 = self._stored_box(left, top, right, bottom)
        return self._upright(self._converted(x0, y0, x1, y1))

    def part(self, left: int, top: int, right: int, bottom: int) -> FramePart:
        """Copy of an upright rectangle as it is stored, without its frame's memory.

        Parameters
        ----------
        left, top, right, bottom : int
            As in `rgb_box`; edges move outwards by up to a pixel, so that colours stay in place.

        Returns
        -------
        FramePart
            Its pixels are those of the frame to the last bit.

        Raises
        ------
        ValueError
            When nothing of the rectangle lies inside the picture.
        """
        x0, y0, x1, y1 = self._stored_box(left, top, right, bottom)
        x0, y0, x1, y1 = x0 & ~1, y0 & ~1, x1 + x1 % 2, y1 + y1 % 2
        to_stored = self._stored_from_upright()
        corners = (np.array([[x0, y0], [x1, y1]]) - to_stored[:, 2]) @ to_stored[:, :2]
        (first_x, first_y), (last_x, last_y) = np.sort(np.rint(corners).astype(int), axis=0)
        return FramePart(
            replace(self, picture=cut_planes(self._planar(), x0, y0, x1, y1)),
            box=(int(first_x), int(first_y), int(last_x), int(last_y)),
            width_px=self.width_px, height_px=self.height_px,
        )  # fmt: skip

    def _stored_box(
        self, left: int, top: int, right: int, bottom: int
    ) -> tuple[int, int, int, int]:
        """Edges of an upright rectangle in the stored picture, clipped to it."""
        left, top = max(left, 0), max(top, 0)
        right, bottom = min(right, self.width_px), min(bottom, self.height_px)
        if left >= right or top >= bottom:
            raise ValueError(
                f"rectangle: expected a part inside {self.width_px}x{self.height_px}, "
                f"got {left, top, right, bottom}"
            )
        corners = np.array([[left, right], [top, bottom], [1, 1]], dtype=float)
        stored = np.sort(np.rint(self._stored_from_upright() @ corners), axis=1).astype(int)
        (x0, x1), (y0, y1) = stored.tolist()
        return x0, y0, x1, y1

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
        upright = np.rot90(plane_of(picture, 0), -turns)  # a view: nothing is copied
        rows, columns = upright.shape[0] // step, upright.shape[1] // step
        if min(rows, columns) < 1:
            raise ValueError(f"step: expected at most the picture's shorter side, got {step}")
        stored = np.rot90(upright[: rows * step, : columns * step], turns)
        small = shrink(stored, step)
        eight_bits = (small >> spare_bits(picture, 0)).astype(np.uint8)
        return np.ascontiguousarray(np.rot90(eight_bits, -turns))

    def _planar(self) -> av.VideoFrame:
        if is_planar_yuv(self.picture):
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
        part = cut_planes(self._planar(), left, top, x1 + x1 % 2, y1 + y1 % 2)
        rgb = _reformatter().reformat(part, format="rgb24", threads=1).to_ndarray()
        return np.asarray(rgb[y0 - top : y1 - top, x0 - left : x1 - left], dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class FramePart:
    """A rectangle of a picture, kept after the picture itself is gone."""

    frame: Frame
    """The rectangle as a picture of its own."""
    box: tuple[int, int, int, int]
    """Left, top, right, bottom of what is kept, in the upright picture."""
    width_px: int
    height_px: int
    """Of the upright picture that it comes from."""

    @property
    def index(self) -> int:
        """Number of the frame in its clip."""
        return self.frame.index

    @property
    def size_bytes(self) -> int:
        """Memory that it takes."""
        return sum(plane.buffer_size for plane in self.frame.picture.planes)

    def holds(self, left: int, top: int, right: int, bottom: int) -> bool:
        """Tell whether `rgb_box` can give a rectangle: all of it that lies in the picture."""
        x0, y0, x1, y1 = self.box
        across = x0 <= max(left, 0) and min(right, self.width_px) <= x1
        return across and y0 <= max(top, 0) and min(bottom, self.height_px) <= y1

    def rgb_box(self, left: int, top: int, right: int, bottom: int) -> Bytes:
        """Upright rectangle as `Frame.rgb_box` gives it, to the last bit.

        Raises
        ------
        ValueError
            When it isn't kept or lies outside the picture.
        """
        left, top = max(left, 0), max(top, 0)
        right, bottom = min(right, self.width_px), min(bottom, self.height_px)
        if not self.holds(left, top, right, bottom):
            raise ValueError(
                f"rectangle: expected a part inside {self.box}, got {left, top, right, bottom}"
            )
        x0, y0 = self.box[:2]
        return self.frame.rgb_box(left - x0, top - y0, right - x0, bottom - y0)


_OF_THREAD = threading.local()


def _reformatter() -> VideoReformatter:
    """Converter of the calling thread; it keeps what it worked out for the last size."""
    if not hasattr(_OF_THREAD, "reformatter"):
        _OF_THREAD.reformatter = VideoReformatter()
    reformatter: VideoReformatter = _OF_THREAD.reformatter
    return reformatter


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
