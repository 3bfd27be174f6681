"""Find the runner in a map of motion over time and distance along the lane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused

__all__ = ["RunTrace", "trace_runner"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FASTEST_MPS = 12.0
BOTH, ONE_WAY = (0,), (-1, 1)
BODY_M = 1.0
"""A runner's moving parts lie within this length of the lane."""
FULL_AREA_M2 = 0.35
"""A moving area from which on it does not matter how much more moves."""
UNSEEN_COST_MPS = 3.0
"""A metre of running where nothing moves loses what a metre at this speed gains."""
CHANGE_COST = 0.02
"""Keeps the path from trembling where nothing is to be gained by it."""
LEAST_SEEN = 0.1
REACH_M = 1.6
REST_S = 0.5
REST_M = 0.15
SLOWEST_RUN_MPS = 2.0
LEAST_RUN_M = 2.0
SECOND_SHARE = 0.25
SECOND_RUN_MPS = 3.5
"""Who passes slower is a walker, whatever the path gathers from swinging limbs."""
APART_M = 1.5


@dataclass(frozen=True, slots=True)
class RunTrace:
    """A runner's rough place over time, good to half a metre."""

    time_s: Floats
    distance_m: Floats
    start_s: float
    """About when the run leaves its place of rest."""
    end_s: float
    """When the motion ends or leaves the mapped lane."""
    others: tuple[str, ...] = ()
    """One sentence for each other runner seen."""

    def at(self, time_s: Floats) -> Floats:
        """Place at given times, shape as given."""
        return np.asarray(np.interp(time_s, self.time_s, self.distance_m))


def trace_runner(
    time_s: Floats, distance_m: Floats, moving_m2: Floats, *, returns: bool = False
) -> RunTrace | Refused:
    """Trace who covers the most of the lane the fastest.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
    distance_m : ndarray of shape (B,)
        Evenly spaced bins.
    moving_m2 : ndarray of shape (T, B)
        Moving area in each bin.
    returns : bool
        The course goes there and back; otherwise a run goes one way, whichever.

    Returns
    -------
    RunTrace or Refused
        Refused where nobody runs, or where two runners cannot be told apart.

    Notes
    -----
    Dynamic programming over place and speed, both in whole bins; what a path gains is moving area
    times speed squared, so that one who runs through once outweighs one who walks about for long.
    Standing still costs nothing, so the path waits where the run begins.
    """
    nothing = Refused(
        "sprint", "Nobody is seen running along the lane.",
        "Film the whole run with the phone still, from before the start to after the last mark.",
    )  # fmt: skip
    if time_s.size < 5:
        return nothing
    area = _near(moving_m2, distance_m)
    ways = BOTH if returns else ONE_WAY
    place, gain = _best(area, time_s, distance_m, ways)
    first, last = _run_span(time_s, place, area, distance_m)
    covered_m = abs(place[last] - place[first])
    if covered_m < LEAST_RUN_M or _fastest(time_s, place) < SLOWEST_RUN_MPS:
        return nothing
    second = _second(time_s, distance_m, moving_m2, place, gain, ways)
    if isinstance(second, Refused):
        return second
    centred = _centred(place, moving_m2, distance_m, slice(max(first - 2, 0), last + 1))
    return RunTrace(time_s, centred, float(time_s[first]), float(time_s[last]), second)


def _near(moving_m2: Floats, distance_m: Floats) -> Floats:
    """Moving area near each bin, what is a body's length away not counted."""
    bins = max(1, round(BODY_M / float(distance_m[1] - distance_m[0]))) | 1
    kernel = np.bartlett(2 * bins + 1)[1:-1]
    return np.stack([np.convolve(row, kernel, "same") for row in moving_m2])


def _likely(area: Floats) -> Floats:
    """Share of what a body moves, 1 at the middle of the largest."""
    return np.asarray(area / np.maximum(area.max(axis=1, keepdims=True), FULL_AREA_M2))


def _best(
    area: Floats, time_s: Floats, distance_m: Floats, ways: tuple[int, ...]
) -> tuple[Floats, float]:
    """Best path over the ways in which a run may go, and what it gains."""
    likely = _likely(area)
    found = [_best_path(likely, time_s, distance_m, way) for way in ways]
    return max(found, key=lambda path: path[1])


def _best_path(
    likely: Floats, time_s: Floats, distance_m: Floats, way: int
) -> tuple[Floats, float]:
    bin_m = float(distance_m[1] - distance_m[0])
    usual_s = float(np.median(np.diff(time_s)))
    most = round(FASTEST_MPS * usual_s / bin_m)
    steps = np.arange(-most, most + 1)
    barred = steps * way < -1  # a step back is allowed: the body's middle trembles
    moved_m = np.abs(steps) * bin_m
    gain, cost = moved_m**2 / usual_s, moved_m * UNSEEN_COST_MPS
    score = np.full((steps.size, distance_m.size), -np.inf)
    score[most] = 0.0
    came_by: list[Ints] = []
    for row in likely[1:]:
        best, source = _previous(score)
        moved = np.stack([_shifted(best[k], step) for k, step in enumerate(steps)])
        came_by.append(source)
        score = moved + gain[:, None] * row[None, :] - cost[:, None] * (1 - row[None, :])
        score[barred] = -np.inf
    return _walk_back(score, came_by, steps, distance_m)


def _previous(score: Floats) -> tuple[Floats, Ints]:
    """Best earlier speed (this one, or one step slower or faster) for each speed and place."""
    pad = np.full((1, score.shape[1]), -np.inf)
    slower = np.vstack([pad, score[:-1]]) - CHANGE_COST
    faster = np.vstack([score[1:], pad]) - CHANGE_COST
    choices = np.stack([score, slower, faster])
    pick = np.argmax(choices, axis=0)
    offset = np.array([0, -1, 1])[pick]
    return np.take_along_axis(choices, pick[None], axis=0)[0], offset.astype(np.int64)


def _shifted(row: Floats, step: int) -> Floats:
    moved = np.full(row.shape, -np.inf)
    if step >= 0:
        moved[step:] = row[: row.size - step]
    else:
        moved[:step] = row[-step:]
    return moved


def _walk_back(
    score: Floats, came_by: list[Ints], steps: Ints, distance_m: Floats
) -> tuple[Floats, float]:
    speed, place = divmod(int(np.argmax(score)), score.shape[1])
    gain = float(score[speed, place])
    path = [place]
    for source in reversed(came_by):
        place -= int(steps[speed])
        speed += int(source[speed, place])
        path.append(place)
    return distance_m[path[::-1]], gain


def _run_span(
    time_s: Floats, place: Floats, area: Floats, distance_m: Floats
) -> tuple[int, int]:
    """Rows in which the run leaves its place of rest, and in which the runner was last seen."""
    fastest = int(np.argmax(np.abs(np.gradient(place, time_s))))
    first = fastest
    while first > 0:
        rest = time_s >= time_s[first] - REST_S
        rest &= time_s <= time_s[first]
        at_rest = np.ptp(place[rest]) <= REST_M and time_s[first] - time_s[0] >= REST_S / 2
        if at_rest:
            break
        first -= 1
    columns = np.clip(np.searchsorted(distance_m, place), 0, distance_m.size - 1)
    seen = area[np.arange(time_s.size), columns] > LEAST_SEEN * FULL_AREA_M2
    last = fastest
    gap = round(REST_S / float(np.median(np.diff(time_s))))
    while last + 1 < time_s.size and np.any(seen[last + 1 : last + 1 + gap]):
        last += 1
    return first, last


def _centred(place: Floats, moving_m2: Floats, distance_m: Floats, run: slice) -> Floats:
    """Middle of what moves near the path; at rest before the run, where it first moved.

    The path itself may cut the corner where the run begins.
    """
    near = np.abs(distance_m[None, :] - place[:, None]) < REACH_M
    area = np.where(near, moving_m2, 0)[run]
    total = area.sum(axis=1)
    seen = np.flatnonzero(total > LEAST_SEEN * FULL_AREA_M2)
    if seen.size == 0:
        return place
    middle = (area[seen] @ distance_m) / total[seen]
    rows = np.arange(place.size)
    return np.asarray(np.interp(rows, seen + run.start, middle))


def _fastest(time_s: Floats, place: Floats) -> float:
    """Best average over a second."""
    ahead = np.interp(time_s + 1.0, time_s, place)
    return float(np.abs(ahead - place).max())


def _second(
    time_s: Floats, distance_m: Floats, moving_m2: Floats, place: Floats, gain: float,
    ways: tuple[int, ...],
) -> tuple[str, ...] | Refused:  # fmt: skip
    """Look for another runner beside the first."""
    far = np.abs(distance_m[None, :] - place[:, None]) > APART_M
    area = _near(np.where(far, moving_m2, 0), distance_m)
    other, other_gain = _best(area, time_s, distance_m, ways)
    if other_gain < SECOND_SHARE * gain or _fastest(time_s, other) < SECOND_RUN_MPS:
        return ()
    both = np.gradient(other, time_s) * np.gradient(place, time_s) > 1.0
    if np.any(both & (np.abs(other - place) < 2 * APART_M)):
        return Refused(
            "sprint", "Two people run along the lane close together.",
            "Film one runner at a time, or leave a gap of three metres.",
        )  # fmt: skip
    middle_s = float(time_s[int(np.argmax(np.abs(np.gradient(other, time_s))))])
    return (f"another runner passes at about {middle_s:.1f} s; the one who gets farther and "
            "faster was followed",)  # fmt: skip
