"""What a turn costs: a run with a turn against a straight one over the same distance."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from calibration.values import Estimate
from measure.sprint.splits import change_of_direction_deficit_s

if TYPE_CHECKING:
    from app.history import SplitRecord

__all__ = ["TurnCost", "list_turn_costs"]

STRAIGHT, TURNING = "sprint", "shuffle_sprint"


@dataclass(frozen=True)
class TurnCost:
    """Change-of-direction deficit of one run, at the farthest mark that a straight run shares."""

    turning: SplitRecord
    """First split of the run with the turn; it has date, clip and side."""
    distance_m: float
    turning_s: Estimate
    straight_s: Estimate
    """Of the fastest straight run."""
    deficit_s: Estimate


def list_turn_costs(splits: Sequence[SplitRecord]) -> list[TurnCost]:
    """Compare each run with a turn with the fastest straight run that may be compared.

    Parameters
    ----------
    splits : sequence of SplitRecord
        Of one athlete.

    Returns
    -------
    list of TurnCost
        None for a run without a straight one by the same start rule, on the same surface and
        slope, to one of its marks.
    """
    runs = [list(run) for _, run in groupby(splits, key=lambda split: split.result_id)]
    straight = [(run[0], _totals(run)) for run in runs if run[0].exercise == STRAIGHT]
    found = []
    for run in runs:
        if run[0].exercise == TURNING:
            alike = [totals for first, totals in straight if _ground(first) == _ground(run[0])]
            found += list(_compare(run[0], _totals(run), alike))
    return found


def _ground(split: SplitRecord) -> tuple[str, str, float]:
    return split.start_rule, split.surface, split.slope_pct


def _totals(run: Sequence[SplitRecord]) -> dict[float, Estimate]:
    """Time from the start to each mark, as far as no mark between was missed."""
    totals: dict[float, Estimate] = {}
    before_m, time_s, variance_s2 = None, 0.0, 0.0
    for split in run:
        if split.from_m != before_m:
            break
        before_m, time_s = split.to_m, time_s + split.time_s
        variance_s2 += split.time_sigma_s**2
        totals[split.to_m] = Estimate(time_s, math.sqrt(variance_s2))
    return totals


def _compare(
    first: SplitRecord, turning: dict[float, Estimate], straight: Sequence[dict[float, Estimate]]
) -> Iterator[TurnCost]:
    shared_m = [mark_m for mark_m in turning if any(mark_m in totals for totals in straight)]
    if shared_m:
        mark_m = max(shared_m)
        fastest = min(
            (totals[mark_m] for totals in straight if mark_m in totals), key=lambda time: time.value
        )
        deficit = change_of_direction_deficit_s(turning[mark_m], fastest)
        yield TurnCost(first, mark_m, turning[mark_m], fastest, deficit)
