"""The turn from a shuffle into a sprint: when it begins and ends, and to which side."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

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
HANDOVER_S = (-0.12, 0.2)
"""Between the end of one foot's stand and the start of the other's, where that one pivots."""
STEP_S = (-0.08, 0.12)
"""Between the planted foot's end and the next touchdown."""
STEP_M = (0.35, 1.9)
"""By which one foot steps past the other."""
LEFT_BEHIND_M = 0.2
"""Hips ahead of the trailing foot when it pushes off; the leading foot leaves from beneath them."""
LONGER, SOMEWHAT_LONGER = 1.4, 1.25
"""Turning on a foot takes longer than a stand of the run: 0.28 to 0.4 s against less than 0.2. A
shadow may hide the beginning of it."""
LEAST_PLANT_S = 0.23
FEWEST_BEFORE = 3
ABOUT_TURN_S, CLOSE_TO_TURN_S = 0.6, 0.3
"""By how much the moment when the body looks half turned may miss a planted foot that is surely
longer than a step, and one that is somewhat longer."""
FLIGHT_S, FLIGHT_SIGMA_S = 0.04, 0.03
"""Between the planted foot and the trailing one nobody flies for long."""
SHUFFLE_S = 1.5
"""Before the last push-off: whose feet tell which way the body faces."""
CLEARS_S, CLEARS_SPREAD_S = 0.06, 0.03
"""A foot that has left clears its place so much later: it takes up 2 to 3 m/s within a tenth of a
metre. Where the outline says otherwise, one of them has followed something else: a cone's edge, or
the shade that the encoder leaves."""
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
    In a shuffle the feet do not pass each other. The trailing foot leaves the ground for the last
    time, the body turns on the planted leading foot, and the trailing one passes it and comes down
    in front of it. *Wrong* where the trailing foot drags, and
    on the side where neither the ground nor the pose shows whether the body faces the camera.
    """
    half_s = _half_turned_s(path)
    if half_s is None:
        return _refused("The body is not seen turning from a shuffle into a run.")
    way = _way(path, half_s)
    step = _turning_step(stands, path, half_s, way)
    if step is None:
        return _refused("The trailing foot's step through the turn is not seen on the ground.")
    leaves = _leaves(stands, step.trailing, ground, way)
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


@dataclass(frozen=True, slots=True)
class _TurningStep:
    trailing: Stand
    """The last one of the trailing foot in the shuffle."""
    lands: Instant


def _turning_step(
    stands: tuple[Stand, ...], path: HipPath, half_s: float, way: float
) -> _TurningStep | None:
    """Step about the turn from the longest stand, which ends a shuffle."""
    for lands_after, about_s in (
        (partial(_lands_seen, longer=LONGER), ABOUT_TURN_S),
        (partial(_lands_seen, longer=SOMEWHAT_LONGER), CLOSE_TO_TURN_S),
        (partial(_lands_unseen, half_s=half_s), CLOSE_TO_TURN_S),
    ):
        found = _step_from(stands, path, half_s, way, lands_after=lands_after, about_s=about_s)
        if found is not None:
            return found
    return None


def _step_from(
    stands: tuple[Stand, ...], path: HipPath, half_s: float, way: float, *,
    lands_after: Callable[..., Instant | None], about_s: float,
) -> _TurningStep | None:  # fmt: skip
    for planted in sorted(stands, key=_length_s, reverse=True):
        lands = lands_after(stands, planted, way=way)
        if lands is None or not (
            planted.start.time_s - about_s < half_s < lands.time_s + about_s
        ):
            continue
        behind = [
            stand for stand in stands
            if _steps_past(stand, planted, HANDOVER_S, way) and _is_left_behind(stand, path, way)
        ]  # fmt: skip
        if behind:
            return _TurningStep(max(behind, key=lambda stand: stand.end.time_s), lands)
    return None


def _lands_seen(
    stands: tuple[Stand, ...], planted: Stand, *, way: float, longer: float
) -> Instant | None:
    """When the next foot is seen to come down ahead of a long stand."""
    after = [stand for stand in stands if _follows(planted, stand, STEP_S)]
    if not after or _length_s(planted) < longer * _length_s(after[0]):
        return None
    ahead = all(_steps_past(planted, stand, STEP_S, way) for stand in after)
    return after[0].start if ahead else None


def _lands_unseen(
    stands: tuple[Stand, ...], planted: Stand, *, way: float, half_s: float
) -> Instant | None:
    """When the next foot comes down where the ground hides it: soon after a long stand.

    The body turns on that stand, or it is the longest for a while.
    """
    long_s = _length_s(planted)
    if long_s < LEAST_PLANT_S or any(_follows(planted, stand, STEP_S) for stand in stands):
        return None
    before_s = [
        _length_s(stand) for stand in stands
        if 0 < planted.start.time_s - stand.start.time_s < SHUFFLE_S
    ]  # fmt: skip
    on_it = planted.start.time_s < half_s < planted.end.time_s + FLIGHT_S
    longest = len(before_s) >= FEWEST_BEFORE and long_s > LONGER * max(before_s)
    if not (on_it or longest):
        return None
    end = planted.end
    return Instant(end.time_s + FLIGHT_S, float(np.hypot(end.sigma_s, FLIGHT_SIGMA_S)))


def _length_s(stand: Stand) -> float:
    return stand.end.time_s - stand.start.time_s


def _follows(stand: Stand, after: Stand, within_s: tuple[float, float]) -> bool:
    gap_s = after.start.time_s - stand.end.time_s
    return after.start.time_s > stand.start.time_s and within_s[0] < gap_s < within_s[1]


def _steps_past(
    stand: Stand, after: Stand, within_s: tuple[float, float], way: float
) -> bool:
    past_m = way * (after.distance_m - stand.distance_m)
    return _follows(stand, after, within_s) and STEP_M[0] < past_m < STEP_M[1]


def _is_left_behind(stand: Stand, path: HipPath, way: float) -> bool:
    hips_m = float(np.interp(stand.end.time_s, path.time_s, path.distance_m))
    return way * (hips_m - stand.distance_m) > LEFT_BEHIND_M


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
