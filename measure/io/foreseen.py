"""What is asked of the pose model for a few pictures at once, before it is needed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Protocol

from measure.io.bodies import Body
from measure.io.pose import Landmarks, Picture, PoseModel, Region
from measure.io.search import SideBySide

__all__ = ["Ahead", "TimedPicture", "look_ahead"]


class TimedPicture(Picture, Protocol):
    """A picture that knows its place in the clip."""

    @property
    def index(self) -> int:
        """Number in decoding order."""

    @property
    def file_time_s(self) -> float:
        """Seconds of file time."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """What the model said."""

    poses: dict[tuple[int, int], Landmarks | None] = field(default_factory=dict)
    """By ``id`` of the body and number of the picture."""
    found: dict[tuple[int, Region | None], list[Region]] = field(default_factory=dict)
    """People, by number of the picture and square."""

    def detect(self, model: PoseModel, picture: Any, area: Region | None) -> list[Region]:
        """Find people in a square of a `TimedPicture`, unless it was looked at ahead."""
        key = (picture.index, area)
        return self.found[key] if key in self.found else model.detect(picture, area)


def look_ahead(
    model: PoseModel, looks: Sequence[tuple[Body, TimedPicture, Region]],
    squares: Sequence[tuple[TimedPicture, Region | None]], *, side_by_side: SideBySide,
) -> Ahead:  # fmt: skip
    """Ask for poses and people side by side: the more at once, the less a core waits.

    Parameters
    ----------
    model : PoseModel
    looks : sequence of tuple of Body, TimedPicture and Region
        Whose pose is read, in which picture and where.
    squares : sequence of tuple of TimedPicture and Region or None
        What people are looked for in.
    side_by_side : callable
        As ``map``.

    Returns
    -------
    Ahead
        The same, however many threads answer.
    """
    calls = [
        *(partial(model.landmarks, picture, region) for _, picture, region in looks),
        *(partial(model.detect, picture, area) for picture, area in squares),
    ]
    results = list(side_by_side(_call, calls))
    poses, found = results[: len(looks)], results[len(looks) :]
    return Ahead(
        {(id(body), picture.index): pose
         for (body, picture, _), pose in zip(looks, poses, strict=True)},
        {(picture.index, area): people
         for (picture, area), people in zip(squares, found, strict=True)},
    )  # fmt: skip


def _call(look: Callable[[], Any]) -> Any:
    return look()
