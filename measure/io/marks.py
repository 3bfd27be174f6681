"""Find cones and printed markers in a picture and propose them as marks of a lane.

A proposal is never a measurement: a person confirms it and says its distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["MarkProposal", "draw_marker", "find_cones", "find_markers", "propose_marks"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

MARKER_COUNT = 50
AROUND_PX = 31
"""Size of what counts as the surroundings, in a picture 1080 pixels high."""
LEAST_CONTRAST = 16.0
"""Colour distance from the surroundings, in units of CIE Lab's a and b."""
HEIGHT_SHARES = (0.006, 0.07)
"""A cone's height over the picture's."""
ASPECTS = (0.35, 2.2)
"""A cone's width over its height."""
LEAST_FILL = 0.3
MOST_CROWDED = 3.0
"""Other things that stand out about a cone, in areas of the cone."""
FOOT_ROWS_SHARE = 0.25
"""The lowest part of a cone, from which its middle is taken."""
FOOT_DEPTH_SHARE = 0.06
"""The middle of the foot lies this share of the cone's height above its lowest edge."""
ROW_TOLERANCE_PX = 3.0
SIZE_RATIO = 1.8
SAME_COLOUR = 16.0
FULL_CONTRAST = 80.0
LEAST_OF_ROW = 0.6
"""Of the contrast of another cone in its row."""
FEWEST_IN_ROW = 3
STEEPEST_ROW = 0.3


@dataclass(frozen=True, slots=True)
class MarkProposal:
    """Something that may be a mark."""

    px: tuple[float, float]
    """Where it meets the ground, upright edge-based pixels."""
    height_px: float
    kind: Literal["cone", "marker"]
    colour_ab: tuple[float, float] = (0.0, 0.0)
    """A cone's mean colour, CIE Lab a and b."""
    number: int | None = None
    """Number of a printed marker."""
    contrast: float = 0.0
    """How far a cone's colour is from what is around it, CIE Lab a and b."""


def propose_marks(rgb: Bytes) -> tuple[MarkProposal, ...]:
    """Propose marks: printed markers where there are any, else rows of cones.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
        One upright picture, best without the athlete.

    Returns
    -------
    tuple of MarkProposal
        From left to right; empty where nothing like a row is seen.
    """
    markers = find_markers(rgb)
    if len(markers) >= FEWEST_IN_ROW:
        return markers
    return _in_rows(find_cones(rgb))


def draw_marker(number: int, *, size_px: int) -> Bytes:
    """Draw a marker to print: black and white, shape (size_px, size_px), with its quiet border.

    Stand it upright with its lower black edge on the ground, facing the phone.
    """
    if not 0 <= number < MARKER_COUNT:
        raise ValueError(f"number: expected 0 to {MARKER_COUNT - 1}, got {number}")
    border = size_px // 8
    sheet = np.full((size_px, size_px), 255, np.uint8)
    inside = size_px - 2 * border
    sheet[border : border + inside, border : border + inside] = cv2.aruco.generateImageMarker(
        _dictionary(), number, inside
    )
    return sheet


def _dictionary() -> Any:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)


def find_markers(rgb: Bytes) -> tuple[MarkProposal, ...]:
    """Find printed square markers (4 x 4 cells, 50 numbers); their lower edge is on the ground."""
    detector = cv2.aruco.ArucoDetector(_dictionary())
    corners, numbers, _ = detector.detectMarkers(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY))
    found = []
    for square, number in zip(corners, [] if numbers is None else numbers.ravel(), strict=True):
        # cv2 puts a pixel's centre on whole numbers, this package on halves.
        points = square.reshape(4, 2).astype(np.float64) + 0.5
        low = points[np.argsort(points[:, 1])[-2:]].mean(axis=0)
        height_px = float(np.ptp(points[:, 1]))
        foot_px = (float(low[0]), float(low[1]))
        found.append(MarkProposal(foot_px, height_px, "marker", number=int(number)))
    return tuple(sorted(found, key=lambda mark: mark.px[0]))


def find_cones(rgb: Bytes, *, picture_height_px: int | None = None) -> tuple[MarkProposal, ...]:
    """Find small upright patches whose colour stands out from what is around them.

    Parameters
    ----------
    rgb : ndarray of shape (H, W, 3), uint8
    picture_height_px : int, optional
        Of the whole picture, where ``rgb`` is a part of it.

    Returns
    -------
    tuple of MarkProposal
        Cones, and other things of a cone's size; from left to right.
    """
    height = picture_height_px or rgb.shape[0]
    lab = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)
    around = max(3, round(AROUND_PX * height / 1080)) | 1
    surroundings = cv2.medianBlur(lab, around)
    apart = lab.astype(np.int16) - surroundings
    contrast = np.hypot(apart[..., 1], apart[..., 2])
    strange = (contrast > LEAST_CONTRAST).astype(np.uint8)
    # A white band splits a cone in two: its parts lie above each other.
    bridge = max(3, round(5 * height / 1080)) | 1
    joined = cv2.morphologyEx(strange, cv2.MORPH_CLOSE, np.ones((bridge, 3), np.uint8))
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    sums = np.asarray(cv2.integral(joined), dtype=np.int32)
    low, high = (share * height for share in HEIGHT_SHARES)
    found = []
    for label in range(1, count):
        left, top, wide, tall, area = (int(v) for v in boxes[label])
        if not low <= tall <= high or not ASPECTS[0] <= wide / tall <= ASPECTS[1]:
            continue
        alone = _crowd(sums, left, top, wide, tall) - area < MOST_CROWDED * area
        if alone and area >= LEAST_FILL * wide * tall:
            part = labels[top : top + tall, left : left + wide] == label
            colour = lab[top : top + tall, left : left + wide, 1:][part & (
                strange[top : top + tall, left : left + wide] > 0)]  # fmt: skip
            apart_ab = contrast[top : top + tall, left : left + wide][part]
            found.append(_cone(part, left, top, colour, float(np.percentile(apart_ab, 75))))
    return tuple(sorted(found, key=lambda mark: mark.px[0]))


def _crowd(sums: NDArray[np.int32], left: int, top: int, wide: int, tall: int) -> int:
    """How much stands out within three heights of a patch: leaves stand among leaves."""
    x0, y0 = max(left - 3 * tall, 0), max(top - 3 * tall, 0)
    x1 = min(left + wide + 3 * tall, sums.shape[1] - 1)
    y1 = min(top + 4 * tall, sums.shape[0] - 1)
    return int(sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0])


def _cone(
    part: NDArray[np.bool_], left: int, top: int, colour: Bytes, contrast: float
) -> MarkProposal:
    tall = part.shape[0]
    foot = part[-max(2, round(FOOT_ROWS_SHARE * tall)) :]
    middle = float(np.average(np.arange(part.shape[1]) + 0.5, weights=foot.sum(axis=0)))
    a, b = colour.mean(axis=0)
    foot_px = (left + middle, top + tall * (1 - FOOT_DEPTH_SHARE))
    return MarkProposal(foot_px, float(tall), "cone", (float(a), float(b)), contrast=contrast)


def _in_rows(cones: tuple[MarkProposal, ...]) -> tuple[MarkProposal, ...]:
    """The cones of the best row, and of a second one beside it."""
    first = _best_row(cones)
    rest = tuple(cone for cone in cones if cone not in first)
    second = _best_row(rest)
    if len(second) < max(FEWEST_IN_ROW, len(first) - 2):
        second = ()
    return tuple(sorted((*first, *second), key=lambda mark: mark.px[0]))


def _best_row(cones: tuple[MarkProposal, ...]) -> tuple[MarkProposal, ...]:
    """Cones of one colour and about one size on one line, which stand out the most together."""
    best: tuple[MarkProposal, ...] = ()
    most = (0.0, 0.0)
    for one, other in combinations(cones, 2):
        (x0, y0), (x1, y1) = one.px, other.px
        if abs(y1 - y0) > STEEPEST_ROW * abs(x1 - x0):
            continue
        slope = (y1 - y0) / (x1 - x0)
        row = tuple(
            cone for cone in cones
            if abs(cone.px[1] - y0 - slope * (cone.px[0] - x0)) < ROW_TOLERANCE_PX
            and math.dist(cone.colour_ab, one.colour_ab) < SAME_COLOUR
            and 1 / SIZE_RATIO < cone.height_px / one.height_px < SIZE_RATIO
            and cone.contrast > LEAST_OF_ROW * one.contrast
        )  # fmt: skip
        # A cone is made to be seen: three bright ones weigh more than a dozen leaves.
        stands_out = sum(min(cone.contrast, FULL_CONTRAST) ** 2 for cone in row), _span(row)
        if len(row) >= FEWEST_IN_ROW and stands_out > most:
            best, most = row, stands_out
    return best


def _span(row: tuple[MarkProposal, ...]) -> float:
    return row[-1].px[0] - row[0].px[0] if row else 0.0
