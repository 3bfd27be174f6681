"""The step that turns a shuffle into a run, among the stands that the ground shows."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from measure.sprint.path import HipPath
from measure.sprint.stands import Stand
from measure.types import Instant

__all__ = ["SHUFFLE_S", "TurningStep", "find_turning_step"]

SHUFFLE_S = 1.5
"""Before the last push-off: whose feet tell of the shuffle."""
HANDOVER_S = (-0.12, 0.2)
"""Between the end of one foot's stand and the start of the other's, where that one pivots."""
STEP_S = (-0.08, 0.12)
"""Between the planted foot's end and the next touchdown."""
STEP_M = (0.35, 1.9)
"""By which one foot steps past the other."""
LEFT_BEHIND_M = 0.2
"""Hips ahead of the trailing foot when it pushes off; the leading foot leaves from beneath them."""
LONGER, SOMEWHAT_LONGER = 1.4, 1.25
"""Turning on a foot takes 0.28 to 0.4 s, a stand of the run less than 0.2. A shadow may hide its
beginning."""
LEAST_PLANT_S = 0.23
FEWEST_BEFORE = 3
ABOUT_TURN_S, CLOSE_TO_TURN_S = 0.6, 0.3
"""By how much the moment when the body looks half turned may miss a planted foot that is surely
longer than a step, and one that is somewhat longer."""
FLIGHT_S, FLIGHT_SIGMA_S = 0.04, 0.03
"""Between the planted foot and the trailing one nobody flies for long."""


@dataclass(frozen=True, slots=True)
class TurningStep:
    """From the trailing foot's last stand over the planted one."""

    trailing: Stand
    """The last one of the trailing foot in the shuffle."""
    lands: Instant
    """The trailing foot's first touchdown of the run."""


def find_turning_step(
    stands: tuple[Stand, ...], path: HipPath, half_s: float, way: float
) -> TurningStep | None:
    """Find the step about the turn from the longest stand, which ends a shuffle.

    Parameters
    ----------
    stands : tuple of Stand
    path : HipPath
    half_s : float
        When the body looks half turned, roughly.
    way : float
        1 towards greater distances, -1 towards smaller.

    Returns
    -------
    TurningStep or None
    """
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
) -> TurningStep | None:  # fmt: skip
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
            return TurningStep(max(behind, key=lambda stand: stand.end.time_s), lands)
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
