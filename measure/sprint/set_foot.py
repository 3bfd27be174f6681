"""Which foot is in front in the set position."""

from __future__ import annotations

import numpy as np

from measure.sprint.feet import FeetPath
from measure.sprint.path import HipPath
from measure.types import Foot

__all__ = ["read_front_foot"]

BEFORE_S = 0.6
FEWEST_POSES = 6
LEAST_APART_M = 0.15
AGREEING_SHARE = 0.85


def read_front_foot(feet: FeetPath, path: HipPath, *, start_s: float) -> Foot | None:
    """Read off who stands in front before the start.

    Parameters
    ----------
    feet : FeetPath
    path : HipPath
    start_s : float

    Returns
    -------
    "left", "right" or None
        None where the poses disagree, as in a body folded over its hands: then a person says it.
    """
    still = (feet.time_s > start_s - BEFORE_S) & (feet.time_s <= start_s)
    if still.sum() < FEWEST_POSES:
        return None
    way = np.sign(path.distance_m[-1] - path.distance_m[0])
    ahead_m = way * (feet.distance_m["left"] - feet.distance_m["right"])[still]
    if np.mean(ahead_m > LEAST_APART_M) >= AGREEING_SHARE:
        return "left"
    if np.mean(ahead_m < -LEAST_APART_M) >= AGREEING_SHARE:
        return "right"
    return None
