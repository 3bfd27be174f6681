"""Where to look for people: on the whole picture first, then on ever smaller squares of it.

The detector sees its square at some 200 pixels: somebody who fills less than about a fifth of
the picture is found only in an enlarged part of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from itertools import chain
from typing import Any

from measure.io.pose import Picture, Region

__all__ = ["Detect", "SideBySide", "search_areas", "search_people"]

SMALLEST_SIDE_PX = 240
"""In a smaller square a person would be too small to measure anything on."""
OVERLAP = 0.5


SideBySide = Callable[..., Iterable[Any]]
"""As ``map``: several calls of one function, their results in order."""
Detect = Callable[[Picture, Region | None], list[Region]]
"""As ``PoseModel.detect``."""


def search_people(
    detect: Detect, picture: Picture, *, deepest: int, side_by_side: SideBySide = map
) -> Iterator[list[Region]]:
    """Detections level by level; the next level is looked at only when it is asked for.

    Parameters
    ----------
    detect : Detect
        Called once for each square.
    picture : Picture
        What is searched.
    deepest : int
        Last level: 0 is the whole picture, 1 squares of its shorter side, and each further
        level squares of half the side.
    side_by_side : callable
        What runs the detector on the squares of a level.

    Yields
    ------
    list of Region
        What a level shows, largest first. One person may be found in several squares.
    """
    for level in range(deepest + 1):
        areas = list(search_areas(picture, level))
        found = chain.from_iterable(side_by_side(detect, [picture] * len(areas), areas))
        yield sorted(found, key=lambda region: -region.size_px)


def search_areas(picture: Picture, level: int) -> Iterator[Region | None]:
    """Squares of one level; None is the whole picture."""
    if level == 0:
        yield None
        return
    side = min(picture.width_px, picture.height_px) / 2 ** (level - 1)
    if side < SMALLEST_SIDE_PX:
        return
    for y in _middles(picture.height_px, side):
        for x in _middles(picture.width_px, side):
            yield Region((x, y), side)


def _middles(length: float, side: float) -> list[float]:
    """Middles of overlapping squares that cover a length from edge to edge."""
    count = 1 + math.ceil((length - side) / (side * (1 - OVERLAP)) - 1e-9)
    if count == 1:
        return [length / 2]
    return [side / 2 + k * (length - side) / (count - 1) for k in range(count)]
