"""One person in a clip: their poses so far, and where they are expected next."""

from __future__ import annotations

import statistics
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from measure.io.pose import Landmarks, Region, region_from_axis
from measure.types import Landmark

__all__ = ["TRUNK", "TRUNK_AND_LEGS", "Body", "Seen", "circle_radius_px", "median_apart_px"]

Floats = NDArray[np.float64]

TRUNK = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, Landmark.LEFT_HIP, Landmark.RIGHT_HIP]
TRUNK_AND_LEGS = [
    *TRUNK,
    Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE, Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE,
]  # fmt: skip
MOVING = [
    *TRUNK_AND_LEGS, Landmark.LEFT_TOE, Landmark.RIGHT_TOE,
    Landmark.LEFT_WRIST, Landmark.RIGHT_WRIST,
]  # fmt: skip
_YOUNG = 3
"""Poses before a body's speed is believed."""
_RECENT = 30
"""Poses looked back at, at most."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One pose of a body."""

    frame_index: int
    file_time_s: float
    pose: Landmarks
    misfit: float = 0.0
    """Distance of the trunk from where it was expected, over what was allowed."""
    radius_px: float = field(init=False)
    """Of the circle round the whole body; looked back at time and again, so worked out once."""
    followed_px: Floats = field(init=False)
    """Axis and trunk, shape (6, 2)."""

    def __post_init__(self) -> None:
        pose = self.pose
        object.__setattr__(self, "radius_px", circle_radius_px(pose))
        object.__setattr__(self, "followed_px", np.vstack([pose.axis_px, pose.px[TRUNK]]))


@dataclass(eq=False)
class Body:
    """One person while followed without a break; two are never the same one."""

    rows: list[Seen] = field(default_factory=list)

    @property
    def last_s(self) -> float:
        """File time of the latest pose."""
        return self.rows[-1].file_time_s

    @property
    def is_young(self) -> bool:
        """Too few poses for its speed to be known."""
        return len(self.rows) < _YOUNG

    def radius_px(self) -> float:
        """Median radius of the circle round the body over the latest poses."""
        return statistics.median(row.radius_px for row in self.rows[-_RECENT:])

    def region(self) -> Region:
        """Where the latest pose is."""
        return region_from_axis(self.rows[-1].pose.axis_px)

    def speed_radii_per_s(self, over_s: float) -> float:
        """Speed of trunk, legs and hands lately, without the fastest tenth; infinite if unknown.

        The larger one between the means of three parts: noise alone moves those little, and
        somebody who turns round at the bottom of a dip comes back in two parts, not in three.
        """
        rows = [r for r in self.rows[-_RECENT:] if r.file_time_s >= self.last_s - over_s]
        third = len(rows) // 3
        if third == 0 or rows[-1].file_time_s - rows[0].file_time_s < 0.6 * over_s:
            return np.inf
        px = np.array([r.pose.px for r in rows])[:, MOVING]
        times_s = np.array([r.file_time_s for r in rows])
        parts = slice(third), slice(third, -third), slice(-third, None)
        px = np.array([px[part].mean(axis=0) for part in parts])
        time_s = np.array([times_s[part].mean() for part in parts])
        ways = np.hypot(*np.moveaxis(np.diff(px, axis=0), -1, 0)) / self.radius_px()
        return float((np.quantile(ways, 0.9, axis=1) / np.diff(time_s)).max())

    def expected_px(self, file_time_s: float, *, trend_s: float) -> Floats:
        """Axis and trunk if the body goes straight on, shape (6, 2): axis points first.

        Beyond twice the trend's length the body is taken to stand still: its speed says no more.
        """
        rows = [r for r in self.rows[-_RECENT:] if r.file_time_s >= self.last_s - trend_s]
        rows = rows if len(rows) >= _YOUNG else self.rows[-_YOUNG:]
        points = np.array([r.followed_px for r in rows])
        time_s = np.array([r.file_time_s for r in rows]) - self.last_s
        centred_s = time_s - time_s.mean()
        spread_s2 = float(np.sum(centred_s**2)) or 1.0
        speed = np.tensordot(centred_s, points, axes=1) / spread_s2
        ahead_s = min(file_time_s - self.last_s, 2 * trend_s)
        return np.asarray(points.mean(axis=0) + speed * (ahead_s - time_s.mean()))

    def next_region(self, file_time_s: float, *, trend_s: float) -> Region:
        """Region for the next pose: the hips' straight path, the body's recent size and turn."""
        recent = [r for r in self.rows[-_RECENT:] if r.file_time_s >= self.last_s - trend_s]
        up = np.mean([r.pose.axis_px[1] - r.pose.axis_px[0] for r in recent], axis=0)
        hips = self.expected_px(file_time_s, trend_s=trend_s)[0]
        return region_from_axis(np.array([hips, hips + up]))


def circle_radius_px(pose: Landmarks) -> float:
    """Radius of the circle round the whole body."""
    return float(np.hypot(*(pose.axis_px[1] - pose.axis_px[0])))


def median_apart_px(one: Floats, other: Floats) -> float:
    """Median distance over points, which one pair that is swapped does not move."""
    return float(np.median(np.hypot(*(one - other).T)))
