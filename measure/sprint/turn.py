"""The turn from a shuffle into a sprint: when it begins and ends, and to which side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.feet import FeetPath
from measure.sprint.lift_off import LiftOff, time_lift_off
from measure.sprint.path import HipPath
from measure.sprint.stands import GroundMap, Stand
from measure.types import Foot, Instant

__all__ = ["Turn", "time_turn"]

Floats = NDArray[np.float64]

LEAST_FACING, LEAST_CHANGE = 0.45, 0.35
"""Share of the shoulders' width that is seen in a shuffle, and how much of it the turn takes."""
COMPARED_S = 0.8
"""Before and after the turn."""
FEWEST_POSES = 5
LANDING_S = (-0.25, 0.34)
"""About the middle of the turn: when the trailing foot may land."""
TRAILING_S = (-0.6, -0.12)
"""About its landing: when it may have left."""
FLIGHT_S, FLIGHT_SIGMA_S = 0.04, 0.03
"""Between the planted foot and the trailing one nobody flies for long."""
SHUFFLE_S = 1.5
"""Before the last push-off: whose feet tell which way the body faces."""
DRAG_SIGMA_S = 0.015
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
    path: HipPath, feet: FeetPath, stands: tuple[Stand, ...], *, ground: GroundMap | None = None
) -> Turn | Refused:
    """Time the turn of a run that begins as a shuffle.

    Parameters
    ----------
    path : HipPath
    feet : FeetPath
        Tell which side leads the shuffle where the ground does not; in profile or from behind a
        pose of a small body takes left for right.
    stands : tuple of Stand
        What the ground shows of the feet before, in and after the turn, by time. The feet of a
        pose of a small body in a turn are off by up to a fifth of a second, and not used.
    ground : GroundMap, optional
        Shows how the trailing foot leaves. Without it, or where its outline is not seen, the end of
        its stand is taken, with more doubt.

    Returns
    -------
    Turn or Refused

    Notes
    -----
    The trailing foot leaves the ground for the last time before the body turns, passes the
    planted leading foot and comes down in front of it. *Wrong* where the trailing foot drags, and
    on the side where neither the ground nor the pose shows whether the body faces the camera.
    """
    half_s = _half_turned_s(path)
    if half_s is None:
        return _refused("The body is not seen turning from a shuffle into a run.")
    way = _way(path, half_s)
    lands = _lands(stands, half_s, way)
    leaves = None if lands is None else _leaves(stands, lands.time_s, ground, way)
    if lands is None or leaves is None:
        return _refused("The trailing foot's step through the turn is not seen on the ground.")
    if ground is None or leaves.heels_seen is None:
        side: Foot = "left" if _trailing(feet, half_s, way) == "right" else "right"
    else:
        side = _leading(ground, leaves.heels_seen, way)
    return Turn(leaves.leaves, lands, side)


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


def _lands(stands: tuple[Stand, ...], half_s: float, way: float) -> Instant | None:
    """Start of the first stand ahead of all that were before the turn.

    Where that one is hidden it begins soon after the planted foot has left.
    """
    early, late = (half_s + edge for edge in LANDING_S)
    before_m = [way * stand.distance_m for stand in stands if stand.start.time_s <= early]
    ahead = [
        stand.start for stand in stands
        if early < stand.start.time_s < late
        and way * stand.distance_m > max(before_m, default=np.inf)
    ]  # fmt: skip
    if ahead:
        return ahead[0]
    planted = [s.end for s in stands if s.start.time_s < half_s < s.end.time_s - TRAILING_S[1]]
    if not planted:
        return None
    last = max(planted, key=lambda end: end.time_s)
    return Instant(last.time_s + FLIGHT_S, float(np.hypot(last.sigma_s, FLIGHT_SIGMA_S)))


def _leaves(
    stands: tuple[Stand, ...], lands_s: float, ground: GroundMap | None, way: float
) -> LiftOff | None:
    """End of the last stand before that of the planted foot, which leaves just before landing."""
    early, late = (lands_s + edge for edge in TRAILING_S)
    behind = [stand for stand in stands if early < stand.end.time_s < late]
    if not behind:
        return None
    last = max(behind, key=lambda stand: stand.end.time_s)
    others = tuple(
        stand for stand in stands
        if last.start.time_s - SHUFFLE_S < stand.end.time_s < last.start.time_s
    )  # fmt: skip
    seen = None if ground is None else time_lift_off(ground, last, others=others, way=way)
    if seen is not None:
        return seen
    sigma_s = float(np.hypot(last.lifts.sigma_s, DRAG_SIGMA_S))
    return LiftOff(Instant(last.lifts.time_s, sigma_s), None)


def _leading(ground: GroundMap, heels_seen: bool, way: float) -> Foot:
    """The athlete's side that leads a shuffle, by whether the heels are seen or the toes.

    A body that faces the camera has its left at the picture's right. A pose of a small body takes
    backs for fronts.
    """
    to_right = way * (ground.distance_m[-1] - ground.distance_m[0]) > 0
    return "right" if to_right == heels_seen else "left"


def _trailing(feet: FeetPath, half_s: float, way: float) -> Foot:
    """The foot that is behind during the shuffle."""
    shuffle = (feet.time_s < half_s - 0.2) & (feet.time_s > half_s - 1.0)
    apart = feet.distance_m["left"] - feet.distance_m["right"]
    return "right" if np.median(apart[shuffle]) * way > 0 else "left"


def _way(path: HipPath, half_s: float) -> float:
    before_m, after_m = np.interp([half_s - 0.5, half_s + 0.3], path.time_s, path.distance_m)
    return float(np.sign(after_m - before_m))


def _refused(reason: str) -> Refused:
    return Refused(
        "turn_s", reason,
        "Film from the side with the phone still, shoes that stand out from the ground, feet in "
        "view.",
    )  # fmt: skip
