"""What covers the ground along the runner's line, frame by frame, for the stands of the feet."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from measure.io.changes import largest_colour
from measure.io.frame import Frame
from measure.sprint.stands import GroundMap
from measure.sprint.trace import RunTrace

__all__ = ["GroundStrip"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

HIGHEST_M, LOWEST_M = 0.10, -0.06
"""The strip, above and below the ground of the runner's line."""
SHOES_M, BELOW_ROWS = 0.25, 2
"""Cells are kept from so many rows below that line up to the height of a shoe that leaves."""
REACH_M = 1.7
"""Kept on both sides of the rough place of the runner."""
MOST_HZ = 125.0
MARGIN_M = 4.0
LEAST_PX = 4
FREE, FULL = 14.0, 44.0
"""Differences of colour from the empty ground (0 to 255) that count as nothing and as all."""
SHADOW_DEEPEST = 0.45
"""A shadow leaves at least this share of the light; what is darker is no shadow."""
COLOUR_WEIGHT = 1.5
"""Of what a shadow does not explain: a change of colour is smaller than one of brightness."""


class GroundStrip:
    """Gathers the strip while a clip is read."""

    def __init__(self, lane: Lane, trace: RunTrace, empty_rgb: Bytes) -> None:
        """Lay the strip through the picture.

        Parameters
        ----------
        lane : Lane
        trace : RunTrace
        empty_rgb : ndarray of shape (H, W, 3), uint8
            The place without the runner.
        """
        self._trace, self._lane = trace, lane
        columns = np.arange(lane.width_px) + 0.5
        low_y, along_m = _edge(lane, columns, 0.0)
        high_y, _ = _edge(lane, columns, HIGHEST_M)
        below_y, _ = _edge(lane, columns, LOWEST_M)
        self._distance_m = along_m
        shoes_y, _ = _edge(lane, columns, SHOES_M)
        low_top = int(np.clip(high_y.min() - 1, 0, lane.height_px - 1))
        self._top = int(np.clip(shoes_y.min() - 1, 0, low_top))
        self._low = slice(low_top - self._top, None)
        self._bottom = int(np.clip(below_y.max() + 1, self._top + 1, lane.height_px))
        rows = np.arange(self._top, self._bottom)[:, None] + 0.5
        self._inside = (rows >= high_y) & (rows <= low_y + 0.5)
        self._empty = empty_rgb[self._top : self._bottom].astype(np.float32)
        self._light = np.einsum("ijk,ijk->ij", self._empty, self._empty) + 1
        steps_m = np.abs(np.diff(along_m))
        scale = 1 / float(steps_m[steps_m > 0].min())
        self._cell_m = float(np.median(steps_m))
        up = np.arange(-BELOW_ROWS, round(SHOES_M / self._cell_m))[:, None]
        # Row of the strip for each cell: the ground's line may run askew.
        self._cell_rows = np.clip(
            np.floor(low_y + 0.5).astype(int) - 1 - up - self._top, 0, self._empty.shape[0] - 1
        )
        self._width = min(lane.width_px, int(2 * REACH_M * scale))
        self.is_seen = bool(self._inside.sum(axis=0).min() >= LEAST_PX)
        self._due_s = -np.inf
        self._time_s: list[float] = []
        self._left: list[int] = []
        self._rgb: list[Bytes] = []
        self._covered: list[NDArray[np.float32]] = []
        self._cells: list[Bytes] = []

    def keep(self, frame: Frame, time_s: float) -> None:
        """Take what the strip needs of one frame; frames that come too fast are passed over."""
        if not self.is_seen or time_s < self._due_s:
            return
        self._due_s = time_s + 0.9 / MOST_HZ
        place_m = self._trace.at(np.array(time_s))
        middle_px = float(picture_from_lane(self._lane, place_m, np.array(0.0))[0])
        left = int(np.clip(middle_px - self._width / 2, 0, self._lane.width_px - self._width))
        rgb = frame.rgb_box(left, self._top, left + self._width, self._bottom)
        part = slice(left, left + self._width)
        share, inside = self._cover(rgb, left), self._inside[:, part]
        covered = np.zeros(self._lane.width_px, np.float32)
        covered[part] = (share * inside).sum(axis=0) / inside.sum(axis=0)
        cells = np.take_along_axis(share, self._cell_rows[:, part], axis=0)
        self._time_s.append(time_s)
        self._left.append(left)
        self._rgb.append(rgb[self._low].copy())
        self._covered.append(covered)
        self._cells.append((255 * cells).astype(np.uint8))

    def _cover(self, rgb: Bytes, left: int) -> NDArray[np.float32]:
        """How much each pixel is covered, shadows left out."""
        part = slice(left, left + self._width)
        empty, seen = self._empty[:, part], rgb.astype(np.float32)
        light = np.einsum("ijk,ijk->ij", seen, empty) / self._light[:, part]
        shaded = np.clip(light, SHADOW_DEEPEST, 1.05)[..., None] * empty
        apart = np.minimum(
            largest_colour(np.abs(seen - empty)),
            COLOUR_WEIGHT * largest_colour(np.abs(seen - shaded)),
        )
        return np.asarray(np.clip((apart - FREE) / (FULL - FREE), 0, 1), dtype=np.float32)

    def map(self) -> GroundMap | None:
        """Everything that was kept; None where the strip is too thin to see a foot in it."""
        if not self.is_seen or not self._time_s:
            return None
        return GroundMap(
            np.array(self._time_s), self._distance_m, np.stack(self._covered),
            np.stack(self._rgb), np.array(self._left, dtype=np.int64),
            np.stack(self._cells), self._cell_m,
        )  # fmt: skip


def _edge(lane: Lane, columns: Floats, height_m: float) -> tuple[Floats, Floats]:
    """Picture rows of a line along the lane at one height, and metres along it, by column."""
    along_m = [mark.distance_m for mark in lane.survey.marks]
    places_m = np.linspace(min(along_m) - MARGIN_M, max(along_m) + MARGIN_M, 400)
    px = picture_from_lane(lane, places_m, np.full(places_m.size, height_m))
    order = np.argsort(px[:, 0])
    return (
        np.interp(columns, px[order, 0], px[order, 1]),
        np.interp(columns, px[order, 0], places_m[order]),
    )
