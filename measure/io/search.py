"""Where to look for people: on the whole picture first, then on ever smaller squares of it.

The detector sees its square at 224 pixels: somebody who fills less than about a fifth of the
picture is found only in an enlarged part of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from measure.io.pose import Picture, PoseModel, Region

__all__ = ["search_people"]

_OVERLAP = 0.5
_SAME_PERSON = 0.5
"""Detections whose centres are nearer than this part of the larger circle are one person."""


def search_people(model: PoseModel, picture: Picture, *, depth: int, at_least: int) -> list[Region]:
    """People in the picture, each once, best first within each size of square.

    Parameters
    ----------
    model : PoseModel
    picture : Picture
    depth : int
        Deepest level tried once nobody was found: 0 is the whole picture, 1 squares of its
        shorter side, and each further level squares of half the side.
    at_least : int
        Levels up to this one are searched even when somebody was found before.
    """
    found: list[Region] = []
    for level in range(depth + 1):
        if found and level > at_least:
            break
        here = [r for area in _areas(picture, level) for r in model.detect(picture, area)]
        for region in sorted(here, key=lambda r: -r.score):
            if not any(_same(region, other) for other in found):
                found.append(region)
    return found


def _areas(picture: Picture, level: int) -> Iterator[Region | None]:
    if level == 0:
        yield None
        return
    side = min(picture.width_px, picture.height_px) / 2 ** (level - 1)
    for y in _middles(picture.height_px, side):
        for x in _middles(picture.width_px, side):
            yield Region((x, y), side)


def _middles(length: float, side: float) -> list[float]:
    """Middles of overlapping squares that cover a length from edge to edge."""
    count = 1 + math.ceil((length - side) / (side * (1 - _OVERLAP)) - 1e-9)
    if count == 1:
        return [length / 2]
    return [side / 2 + k * (length - side) / (count - 1) for k in range(count)]


def _same(one: Region, other: Region) -> bool:
    distance = math.dist(one.centre_px, other.centre_px)
    return distance < _SAME_PERSON * max(one.size_px, other.size_px) / 2
