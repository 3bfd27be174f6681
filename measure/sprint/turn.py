"""The turn from a shuffle into a sprint: when it begins and ends, and to which side."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.feet import FeetPath
from measure.sprint.lift_off import LiftOff, time_lift_off
from measure.sprint.path import HipPath
from measure.sprint.stands import GroundMap, Stand
from measure.sprint.turning_step import SHUFFLE_S, find_turning_step
from measure.types import Foot, Instant

__all__ = ["Turn", "time_turn"]

Floats = NDArray[np.float64]

LEAST_FACING, LEAST_CHANGE = 0.45, 0.35
"""Share of the shoulders' width that is seen in a shuffle, and how much of it the turn takes."""
COMPARED_S = 0.8
"""Before and after the turn."""
FEWEST_POSES = 5
CLEARS_S, CLEARS_SPREAD_S = 0.06, 0.03
"""A foot that has left clears its place so much later: it takes up 2 to 3 m/s within a tenth of a
metre. Where the outline says otherwise, one of the two has followed a cone's edge, or the shade
that an encoder leaves."""
MOST_DOUBT_S = 0.020
"""A turn takes 0.4 s: one that is known no better compares with nothing."""
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
        small body's pose are off by up to a fifth of a second there, and not used.
    ground : GroundMap, optional
        Shows how the trailing foot leaves. Without it, or where its outline is not seen, the end of
        its stand is taken, with more doubt.

    Returns
    -------
    Turn or Refused

    Notes
    -----
    In a shuffle the feet do not pass each other. The trailing foot leaves the ground for the last
    time, the body turns on the planted leading foot, and the trailing one comes down ahead of it.
    *Wrong* where the trailing foot drags, and on the side where nothing shows which way she faces.
    """
    half_s = _half_turned_s(path)
    if half_s is None:
        return _refused("The body is not seen turning from a shuffle into a run.")
    way = _way(path, half_s)
    step = find_turning_step(stands, path, half_s, way)
    if step is None:
        return _refused("The trailing foot's step through the turn is not seen on the ground.")
    leaves = _leaves(stands, step.trailing, ground, way)
    if leaves.leaves.sigma_s > MOST_DOUBT_S:
        return _refused("The trailing foot's last push-off is not seen clearly.")
    heels_seen = _back_seen(path, half_s)
    if heels_seen is None:
        heels_seen = leaves.heels_seen
    if ground is None or heels_seen is None:
        side: Foot = "left" if _trailing(feet, half_s, way) == "right" else "right"
    else:
        side = _leading(ground, heels_seen, way)
    return Turn(leaves.leaves, step.lands, side)


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


def _leaves(
    stands: tuple[Stand, ...], last: Stand, ground: GroundMap | None, way: float
) -> LiftOff:
    """End of the trailing foot's last stand."""
    others = tuple(
        stand for stand in stands
        if last.start.time_s - SHUFFLE_S < stand.end.time_s < last.start.time_s
    )  # fmt: skip
    seen = None if ground is None else time_lift_off(ground, last, others=others, way=way)
    if seen is not None:
        return replace(seen, leaves=_doubted(seen.leaves, last))
    # Both feet of a shuffle may stand on one place, one after the other: what is first free there
    # may be the leading foot, and what is last free is passed over by the body.
    first_s, last_s = last.lifts.time_s, last.end.time_s
    span_s = abs(last_s - first_s) / np.sqrt(12)
    sigma_s = float(np.linalg.norm([last.lifts.sigma_s, DRAG_SIGMA_S, span_s]))
    return LiftOff(Instant((first_s + last_s) / 2, sigma_s), None)


def _doubted(leaves: Instant, last: Stand) -> Instant:
    """Between what the outline says and what the cleared ground says, where they do not agree."""
    by_ground_s = last.end.time_s - CLEARS_S
    apart_s = leaves.time_s - by_ground_s
    if abs(apart_s) < CLEARS_SPREAD_S:
        return leaves
    sigma_s = float(np.hypot(leaves.sigma_s, abs(apart_s) / 2))
    return Instant(leaves.time_s - apart_s / 2, sigma_s)


def _back_seen(path: HipPath, half_s: float) -> bool | None:
    """Whether the body turned its back to the phone in the shuffle, by where its nose is seen."""
    shuffle = (path.time_s > half_s - SHUFFLE_S) & (path.time_s < half_s - 0.2)
    if path.to_camera is None or not shuffle.any():
        return None
    looks = float(np.median(path.to_camera[shuffle]))
    return looks < 0 if abs(looks) > LEAST_FACING else None


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
