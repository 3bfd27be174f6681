"""Both feet along the lane, left and right told apart all the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import place_on_lane
from calibration.lane_values import Lane
from measure.sprint.legs import untangle_legs
from measure.types import FOOT_LANDMARKS, Foot

__all__ = ["FeetPath", "read_feet"]

Floats = NDArray[np.float64]
GROUND_PERCENTILE = 15
GROUND_S = 0.5
"""A runner's foot is on the ground at least once in twice this time."""


@dataclass(frozen=True, slots=True)
class FeetPath:
    """Places of both feet as if they were above the runner's line."""

    time_s: Floats
    """Shape (T,)."""
    distance_m: dict[Foot, Floats]
    """Middle of ankle, heel and toe along the lane, shape (T,) each."""
    clearance_m: dict[Foot, Floats]
    """Lowest point of the foot above where it stands, shape (T,) each."""


def read_feet(time_s: Floats, lane_px: Floats, lane: Lane) -> FeetPath:
    """Read both feet off a pose track, legs untangled.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
    lane_px : ndarray of shape (T, 33, 2)
        In the picture in which the lane was marked.
    lane : Lane

    Returns
    -------
    FeetPath
        The ground is where each foot is at its lowest over a second: it may climb along the lane.
    """
    places = place_on_lane(lane, lane_px)
    points = np.stack([places.distance_m, places.height_m], axis=-1)
    left, right = (_leg(points, foot) for foot in ("left", "right"))
    swapped = untangle_legs(time_s, left, right)[:, None]
    legs: dict[Foot, Floats] = {
        "left": np.where(swapped, right, left), "right": np.where(swapped, left, right)
    }  # fmt: skip
    return FeetPath(
        time_s,
        {foot: leg[:, [2, 4, 6]].mean(axis=1) for foot, leg in legs.items()},
        {foot: _above_ground(time_s, leg[:, [5, 7]].min(axis=1)) for foot, leg in legs.items()},
    )



def _leg(points: Floats, foot: Foot) -> Floats:
    """Knee, ankle, heel and toe: along and up of each, shape (T, 8)."""
    names = FOOT_LANDMARKS[foot]
    picked = points[:, [names.knee, names.ankle, names.heel, names.toe]]
    return picked.reshape(len(points), 8)


def _above_ground(time_s: Floats, low_m: Floats) -> Floats:
    ground = [
        np.percentile(low_m[np.abs(time_s - at_s) <= GROUND_S], GROUND_PERCENTILE)
        for at_s in time_s
    ]
    return low_m - np.array(ground)
