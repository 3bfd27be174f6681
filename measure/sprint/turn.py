"""The turn from a shuffle into a sprint: when it begins and ends, and to which side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.feet import FeetPath
from measure.sprint.path import HipPath
from measure.sprint.stands import Stand
from measure.types import Foot, Instant

__all__ = ["Turn", "time_turn"]

Floats = NDArray[np.float64]

LEAST_FACING, LEAST_CHANGE = 0.45, 0.35
"""Share of the shoulders' width that is seen in a shuffle, and how much of it the turn takes."""
COMPARED_S = 0.8
"""Before and after the turn."""
FEWEST_POSES = 5
OFF_GROUND_M = 0.02
NEAR_GROUND_M, HIGH_M = 0.02, 0.16
"""Between these heights the foot comes down about straight."""
SEARCH_S = 0.6
PLANTED_S = 0.12
"""About the middle of the turn the leading foot stands."""
STEP_M = 0.3
LEAVES_SIGMA_S, LANDS_SIGMA_S = 0.08, 0.03
"""Of a push-off and a touch seen on the pose alone: its feet are worth little in a turn."""
LANDING_S = (-0.25, 0.34)
"""About the middle of the turn: when the trailing foot may land."""
TRAILING_S = (-0.6, -0.12)
"""About its landing: when it may have left."""
FLIGHT_S, FLIGHT_SIGMA_S = 0.04, 0.03
"""Between the planted foot and the trailing one nobody flies for long."""
DRAG_SIGMA_S = 0.025
"""A foot that pushes off sideways may drag."""


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


def time_turn(
    path: HipPath, feet: FeetPath, stands: tuple[Stand, ...] = ()
) -> Turn | Refused:
    """Time the turn of a run that begins as a shuffle.

    Parameters
    ----------
    path : HipPath
    feet : FeetPath
    stands : tuple of Stand
        What the ground shows of the feet about the turn; where they are missing, the pose's feet
        have to do, with much more doubt.

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
    way = _way(path, half_s)
    lands = _stand_lands(stands, half_s, way)
    leaves = None if lands is None else _stand_leaves(stands, lands.time_s)
    lands = lands or _pose_lands(path, feet, half_s)
    leaves = leaves or _pose_leaves(feet, trailing, half_s)
    if leaves is None or lands is None or not leaves.time_s < lands.time_s:
        return _refused("The trailing foot's step through the turn is not seen.")
    side: Foot = "left" if trailing == "right" else "right"
    return Turn(leaves, lands, side)


def _stand_lands(stands: tuple[Stand, ...], half_s: float, way: float) -> Instant | None:
    """Start of the first stand ahead of all that were before the turn.

    Where that one is hidden it begins soon after the planted foot has left.
    """
    early, late = (half_s + edge for edge in LANDING_S)
    before_m = [way * s.distance_m for s in stands if s.start.time_s <= early]
    ahead = [
        s.start for s in stands
        if early < s.start.time_s < late and way * s.distance_m > max(before_m, default=np.inf)
    ]  # fmt: skip
    if ahead:
        return ahead[0]
    planted = [s.end for s in stands if s.start.time_s < half_s < s.end.time_s + PLANTED_S]
    if not planted:
        return None
    last = max(planted, key=lambda end: end.time_s)
    return Instant(last.time_s + FLIGHT_S, float(np.hypot(last.sigma_s, FLIGHT_SIGMA_S)))


def _stand_leaves(stands: tuple[Stand, ...], lands_s: float) -> Instant | None:
    """End of the last stand before that of the planted foot, which leaves just before landing."""
    early, late = (lands_s + edge for edge in TRAILING_S)
    behind = [stand for stand in stands if early < stand.end.time_s < late]
    if not behind:
        return None
    lifts = max(behind, key=lambda stand: stand.end.time_s).lifts
    return Instant(lifts.time_s, float(np.hypot(lifts.sigma_s, DRAG_SIGMA_S)))


def _pose_leaves(feet: FeetPath, trailing: Foot, half_s: float) -> Instant | None:
    clear = feet.clearance_m[trailing]
    near = np.abs(feet.time_s - half_s) < SEARCH_S
    left_s = _leaves(feet.time_s, clear, half_s, near & (clear > OFF_GROUND_M))
    return None if left_s is None else Instant(left_s, LEAVES_SIGMA_S)


def _pose_lands(path: HipPath, feet: FeetPath, half_s: float) -> Instant | None:
    lands_s = _lands(feet.time_s, *_stepping_ahead(path, feet, half_s), half_s)
    return None if lands_s is None else Instant(lands_s, LANDS_SIGMA_S)


def _half_turned_s(path: HipPath) -> float | None:
    """When the body passes from facing the camera, or away from it, to profile.

    Near the picture's edges shoulders in profile show some width too, so the largest step counts.
    """
    facing = np.sqrt(1 - np.clip(path.profile, 0, 1) ** 2)
    best: tuple[float, float | None] = (LEAST_CHANGE, None)
    for at_s in (path.time_s[:-1] + path.time_s[1:]) / 2:
        before = facing[(path.time_s < at_s) & (path.time_s > at_s - COMPARED_S)]
        after = facing[(path.time_s > at_s) & (path.time_s < at_s + COMPARED_S)]
        if min(before.size, after.size) < FEWEST_POSES or before.mean() < LEAST_FACING:
            continue
        best = max(best, (float(before.mean() - after.mean()), float(at_s)), key=lambda b: b[0])
    return best[1]


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
