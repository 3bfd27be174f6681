"""Both feet along the lane, and how far they are above the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import place_on_lane
from calibration.lane_values import Lane
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
    ground_m: dict[Foot, Floats]
    """Where it stands, above the lane's ground, shape (T,) each. Far from zero where another
    line is run on than the lane says."""


def read_feet(time_s: Floats, lane_px: Floats, lane: Lane) -> FeetPath:
    """Read both feet off a pose track.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
    lane_px : ndarray of shape (T, 33, 2)
        In the picture in which the lane was marked, swapped legs put back.
    lane : Lane

    Returns
    -------
    FeetPath
        The ground is where each foot is at its lowest over a second: it may climb along the lane.
    """
    places = place_on_lane(lane, lane_px)
    points = np.stack([places.distance_m, places.height_m], axis=-1)
    legs: dict[Foot, Floats] = {
        foot: points[:, [names.ankle, names.heel, names.toe]]
        for foot, names in FOOT_LANDMARKS.items()
    }
    lowest = {foot: leg[:, 1:, 1].min(axis=1) for foot, leg in legs.items()}
    ground = {foot: _ground(time_s, low_m) for foot, low_m in lowest.items()}
    return FeetPath(
        time_s,
        distance_m={foot: leg[..., 0].mean(axis=1) for foot, leg in legs.items()},
        clearance_m={foot: lowest[foot] - ground[foot] for foot in legs},
        ground_m=ground,
    )


def _ground(time_s: Floats, low_m: Floats) -> Floats:
    ground = [
        np.percentile(low_m[np.abs(time_s - at_s) <= GROUND_S], GROUND_PERCENTILE)
        for at_s in time_s
    ]
    return np.array(ground)
