"""The turn from a shuffle into a sprint: when it begins and ends, and to which side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.feet import FeetPath
from measure.sprint.path import HipPath
from measure.types import Foot, Instant

__all__ = ["Turn", "time_turn"]

Floats = NDArray[np.float64]

HALF_TURNED = 0.5
SHUFFLE_S = 0.3
"""A shuffle faces the camera, or away from it, at least this long before the turn."""
OFF_GROUND_M = 0.02
NEAR_GROUND_M, HIGH_M = 0.02, 0.16
"""Between these heights the foot comes down about straight."""
SEARCH_S = 0.6
PLANTED_S = 0.12
"""About the middle of the turn the leading foot stands."""
STEP_M = 0.3
SIGMA_S = 0.010
"""Of a foot's touch of the ground seen on the pose alone."""


@dataclass(frozen=True, slots=True)
class Turn:
    """From the trailing foot's last push-off to its first touchdown of the run."""

    start: Instant
    end: Instant
    side: Foot
    """Towards which the body turns: the side that led the shuffle."""

    @property
    def time_s(self) -> float:
        """How long the turn took."""
        return self.end.time_s - self.start.time_s

    @property
    def sigma_s(self) -> float:
        """Doubt of how long it took."""
        return float(np.hypot(self.start.sigma_s, self.end.sigma_s))


def time_turn(path: HipPath, feet: FeetPath) -> Turn | Refused:
    """Time the turn of a run that begins as a shuffle.

    Parameters
    ----------
    path : HipPath
    feet : FeetPath

    Returns
    -------
    Turn or Refused

    Notes
    -----
    The trailing foot leaves the ground for the last time before the body turns, passes the
    planted leading foot and comes down in front of it. *Wrong* where the trailing foot drags.
    """
    half_s = _half_turned_s(path)
    if half_s is None:
        return _refused("The body is not seen turning from a shuffle into a run.")
    trailing = _trailing(path, feet, half_s)
    clear = feet.clearance_m[trailing]
    interval_s = float(np.median(np.diff(feet.time_s)))
    near = np.abs(feet.time_s - half_s) < SEARCH_S
    airborne = near & (clear > OFF_GROUND_M)
    left_s = _leaves(feet.time_s, clear, half_s, airborne)
    lands_s = _lands(feet.time_s, *_stepping_ahead(path, feet, half_s), half_s)
    if left_s is None or lands_s is None or not left_s < lands_s:
        return _refused("The trailing foot's step through the turn is not seen.")
    sigma_s = float(np.hypot(SIGMA_S, 0.3 * interval_s))
    side: Foot = "left" if trailing == "right" else "right"
    return Turn(Instant(left_s, sigma_s), Instant(lands_s, sigma_s), side)


def _half_turned_s(path: HipPath) -> float | None:
    """When the body passes from facing the camera to profile for the last time."""
    frontal = path.profile < HALF_TURNED
    turns = np.flatnonzero(frontal[:-1] & ~frontal[1:])
    for row in turns[::-1]:
        before = (path.time_s > path.time_s[row] - SHUFFLE_S) & (path.time_s <= path.time_s[row])
        if frontal[before].mean() > 0.8 and (~frontal[row + 1 :]).mean() > 0.8:
            return float((path.time_s[row] + path.time_s[row + 1]) / 2)
    return None


def _trailing(path: HipPath, feet: FeetPath, half_s: float) -> Foot:
    """The foot that is behind during the shuffle."""
    shuffle = (feet.time_s < half_s - 0.2) & (feet.time_s > half_s - 1.0)
    apart = feet.distance_m["left"] - feet.distance_m["right"]
    return "right" if np.median(apart[shuffle]) * _way(path, half_s) > 0 else "left"


def _leaves(
    time_s: Floats, clear: Floats, half_s: float, airborne: NDArray[np.bool_]
) -> float | None:
    """Back from the step through the turn to where the foot was still down."""
    row = int(np.argmin(np.abs(time_s - half_s)))
    while row > 0 and airborne[row]:
        row -= 1
    if row == 0 or row + 1 >= time_s.size or time_s[row] < half_s - SEARCH_S:
        return None
    rise = clear[row + 1] - clear[row]
    share = (OFF_GROUND_M - clear[row]) / rise if rise > 0 else 0.5
    return float(time_s[row] + np.clip(share, 0, 1) * (time_s[row + 1] - time_s[row]))


def _stepping_ahead(
    path: HipPath, feet: FeetPath, half_s: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Clearance of whichever foot is in front, and when it is a step ahead of the planted one.

    Asking for the foot in front and not for its name: in profile the model mixes up the legs.
    """
    way = _way(path, half_s)
    left, right = (way * feet.distance_m[foot] for foot in ("left", "right"))
    clear = np.where(left > right, feet.clearance_m["left"], feet.clearance_m["right"])
    turning = np.abs(feet.time_s - half_s) < PLANTED_S
    planted_m = float(np.median(np.maximum(left, right)[turning]))
    return clear, np.maximum(left, right) > planted_m + STEP_M


def _way(path: HipPath, half_s: float) -> float:
    before_m, after_m = np.interp([half_s - 0.5, half_s + 0.3], path.time_s, path.distance_m)
    return float(np.sign(after_m - before_m))


def _lands(
    time_s: Floats, clear: Floats, ahead: NDArray[np.bool_], half_s: float
) -> float | None:
    """Along the foot's way down to the ground."""
    after = np.flatnonzero((time_s > half_s) & (time_s < half_s + SEARCH_S) & ahead)
    down = after[clear[after] < NEAR_GROUND_M]
    if down.size == 0:
        return None
    row = int(down[0])
    falling = row
    while falling > 0 and clear[falling - 1] > clear[falling] and clear[falling - 1] < HIGH_M:
        falling -= 1
    way = np.arange(falling, row)
    if way.size < 2:
        return float((time_s[row - 1] + time_s[row]) / 2)
    slope, level = np.polyfit(time_s[way], clear[way], 1)
    ground_s = -level / slope if slope < 0 else time_s[row]
    return float(np.clip(ground_s, time_s[row - 1], time_s[row] + 0.02))


def _refused(reason: str) -> Refused:
    return Refused(
        "turn_s", reason, "Film from the side at 60 pictures per second or more, feet in view."
    )
