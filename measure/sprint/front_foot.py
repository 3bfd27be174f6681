"""Which foot was in front in the set position, from how low each step stands in the picture.

A camera above the ground sees the nearer foot stand lower. By less than a pixel, but the feet take
turns: a dozen steps show it. Which leg a pose calls the left one in profile is chance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import Refused
from measure.sprint.local import fit_columns
from measure.sprint.stands import GroundMap, Stand
from measure.types import Foot

__all__ = ["FrontFoot", "see_front_foot"]

Floats = NDArray[np.float64]

HALF_STEP_M, HALF_STEP_SHARE = 0.05, 0.5
"""Of a foot from the line that is run on; and how much that varies between runners."""
LEVEL_SIGMA_PX, LEAST_SPREAD_PX = 0.08, 0.15
"""What all steps of one foot may share, and what a step is read to at best."""
RESTS = (0.15, 0.65)
"""Parts of a stand between which the sole lies on the ground."""
HALF_FOOT_M = 0.14
LOWEST_QUANTILE = 0.3
HALF_COVERED, LOWEST_CELLS = 0.5, 8
FEWEST_STEPS = 6
SURE = 0.95
COVERED, SET_SHARE, SET_S = 0.35, 0.8, 0.33
"""What stands on the ground of the set position before the start."""
LAST_FREE = 0.9
"""The front foot leaves last; its heel first."""
SOON_S = 0.03
"""From there the rear foot touches down."""
FIRST_TOUCH_S = (0.34, 0.8)
"""After the start: else the foot that was seen to leave was another."""
LEAST_SET_M = 0.25
"""Of the ground both feet cover, else one of them is not seen."""


@dataclass(frozen=True, slots=True)
class FrontFoot:
    """The foot in front in the set position."""

    foot: Foot
    chance: float
    """That it is this one, 0.95 to 1."""


def see_front_foot(
    ground: GroundMap, lane: Lane, stands: tuple[Stand, ...], *, start_s: float, way: float
) -> FrontFoot | Refused:
    """Tell which foot was in front.

    Parameters
    ----------
    ground : GroundMap
    lane : Lane
    stands : tuple of Stand
        Of the run from the set position, by time; single ones may be hidden.
    start_s : float
        The first movement.
    way : float
        1 towards greater distances, -1 towards smaller.

    Returns
    -------
    FrontFoot or Refused
        Refused where a chance of 95 % is not reached.

    Notes
    -----
    The rear foot steps first. The likelihoods of a half step of 5 ± 2.5 cm to either side are
    compared. *Wrong* where an athlete steps back first with the front foot, or crosses the line
    that she runs on with every step.
    """
    first = _first_number(ground, stands, start_s)
    if first is None:
        return _refused("the first steps are not seen on the ground")
    numbers = first + _numbers(stands)
    levels_px = np.array([_level_px(ground, lane, stand) for stand in stands])
    seen = np.isfinite(levels_px)
    if seen.sum() < FEWEST_STEPS:
        return _refused("too few steps stand out from the ground")
    turns = np.where(numbers % 2 == 0, 1.0, -1.0)
    columns = np.stack([turns, np.ones(turns.size), numbers - numbers.mean()], axis=-1)[seen]
    fit = fit_columns(columns, levels_px[seen])
    higher_px = float(fit.solution[0])
    sigma_px = replace(fit, spread=max(fit.spread, LEAST_SPREAD_PX)).sigma(np.array([1.0, 0, 0]))
    expected_px = _half_step_px(lane)
    doubt_px = float(np.linalg.norm([sigma_px, LEVEL_SIGMA_PX, HALF_STEP_SHARE * expected_px]))
    chance = float(1 / (1 + np.exp(-2 * abs(higher_px) * expected_px / doubt_px**2)))
    if chance < SURE:
        return _refused(f"the steps tell it with a chance of {100 * chance:.0f} % only")
    near, far = _sides(lane, way)
    return FrontFoot(near if higher_px > 0 else far, chance)


def _sides(lane: Lane, way: float) -> tuple[Foot, Foot]:
    """Near and far foot: who runs to the picture's right shows her right side."""
    return ("right", "left") if way * lane.direction > 0 else ("left", "right")


def _numbers(stands: tuple[Stand, ...]) -> NDArray[np.int64]:
    """Of the steps, hidden ones counted, from the first that is seen."""
    gaps_s = np.diff([stand.start.time_s for stand in stands])
    steps = np.rint(gaps_s / _usual_s(gaps_s)).astype(np.int64)
    return np.concatenate([np.zeros(1, np.int64), np.cumsum(steps)])


def _usual_s(gaps_s: Floats) -> float:
    return float(np.median(gaps_s[gaps_s < 1.5 * gaps_s.min()]))


def _first_number(
    ground: GroundMap, stands: tuple[Stand, ...], start_s: float
) -> int | None:
    """Steps before the first that is seen: the rear foot's comes as the front foot leaves."""
    before = (ground.time_s > start_s - SET_S) & (ground.time_s < start_s)
    if len(stands) < FEWEST_STEPS or not before.any():
        return None
    covered = ground.covered > COVERED
    columns = np.flatnonzero(covered[before].mean(axis=0) > SET_SHARE)
    after = ground.time_s > start_s
    column_m = float(np.median(np.abs(np.diff(ground.distance_m))))
    if columns.size * column_m < LEAST_SET_M or not after.any():
        return None
    free = ~covered[after][:, columns]
    free_s = ground.time_s[after][np.argmax(free, axis=0)]
    late_s = stands[0].start.time_s - float(np.quantile(free_s, LAST_FREE)) - SOON_S
    usual_s = _usual_s(np.diff([stand.start.time_s for stand in stands]))
    number = round(late_s / usual_s)
    touches_s = stands[0].start.time_s - number * usual_s - start_s
    plausible = FIRST_TOUCH_S[0] < touches_s < FIRST_TOUCH_S[1]
    return number if number >= 0 and plausible else None


def _level_px(ground: GroundMap, lane: Lane, stand: Stand) -> float:
    """Height of the sole's lower edge over the line that is run on, pixels; NaN where unseen."""
    length_s = stand.end.time_s - stand.start.time_s
    from_s, until_s = stand.start.time_s + length_s * np.array(RESTS)
    rows = np.flatnonzero((ground.time_s >= from_s) & (ground.time_s <= until_s))
    columns = np.flatnonzero(np.abs(ground.distance_m - stand.distance_m) < HALF_FOOT_M)
    line_y = picture_from_lane(lane, ground.distance_m[columns], np.array(0.0))[:, 1]
    # Cells are whole pixels, counted from the pixel in which the line lies.
    beyond_px = line_y + 0.5 - np.floor(line_y + 0.5)
    levels = [
        level for row in rows
        if (level := _lower_edge(ground, row, columns, beyond_px)) is not None
    ]  # fmt: skip
    return float(np.median(levels)) if levels else float("nan")


def _lower_edge(
    ground: GroundMap, row: int, columns: NDArray[np.int64], beyond_px: Floats
) -> float | None:
    part = columns - ground.left[row]
    if part.size == 0 or part[0] < 0 or part[-1] >= ground.cells.shape[2]:
        return None
    cells = ground.cells[row][:LOWEST_CELLS, part] / 255.0
    lowest = np.argmax(cells > HALF_COVERED, axis=0)
    here = np.arange(part.size)
    below = np.where(lowest > 0, cells[np.maximum(lowest - 1, 0), here], 0.0)
    edge = (lowest - below + beyond_px)[cells[lowest, here] > HALF_COVERED]
    return float(np.quantile(edge, LOWEST_QUANTILE)) if edge.size >= 3 else None


def _half_step_px(lane: Lane) -> float:
    """How much higher in the picture a foot stands that is half a step farther."""
    middle_m = np.array(np.mean([mark.distance_m for mark in lane.survey.marks]))
    beyond = replace(lane.survey, athlete_offset_m=lane.survey.athlete_offset_m + HALF_STEP_M)
    line, farther = (
        picture_from_lane(replace(lane, survey=survey), middle_m, np.array(0.0))
        for survey in (lane.survey, beyond)
    )
    return float(abs(line[1] - farther[1]))


def _refused(seen: str) -> Refused:
    return Refused(
        "start_foot", f"From the side the left leg looks like the right one, and {seen}.",
        "Say which foot was in front at the start, so that both sides can be compared; or film "
        "from higher, with shoes that stand out from the ground.",
    )  # fmt: skip
