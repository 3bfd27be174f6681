"""An athlete's kept jumps and runs as lines, the jumps with a small chart."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from app.exercises import EXERCISE_NAMES, name_exercise
from app.report.quantities import NOT_MEASURED, lay_out, plain, show, show_cm, show_ms
from app.report.text import SIGMA_SAID
from app.turn_cost import list_turn_costs
from measure.report import JumpReport

if TYPE_CHECKING:
    from app.history import JumpRecord, SplitRecord

CHART_WIDTH = 48
TURN_COST_SAID = (
    "what the turn costs (change-of-direction deficit): against the fastest straight run"
)
LEAST_SPAN_M = 0.10


def render_history(
    jumps: Sequence[JumpRecord], *, athlete: str, splits: Sequence[SplitRecord] = ()
) -> list[str]:
    """Give an athlete's jumps and runs over time, only like with like.

    Parameters
    ----------
    jumps : sequence of JumpRecord
        From the oldest to the newest: one table and chart per exercise and side.
    athlete : str
    splits : sequence of SplitRecord
        From the oldest to the newest: one table per exercise, start rule and surface.

    Returns
    -------
    list of str
    """
    lines = [plain(athlete)]
    for (exercise, side), alike in _by_kind(jumps):
        lines += ["", f"{name_exercise(exercise or None)}, off {_feet(side)}"]
        lines += [*_table(alike), "", *_chart(alike)]
    for (exercise, rule, surface, slope_pct, side), run in groupby(
        sorted(splits, key=_run), key=_run
    ):
        slope = f", slope {slope_pct:+g} %" if slope_pct else ""
        told = f", {_run_side(exercise, side)}" if side else ""
        lines += ["", f"{name_exercise(exercise or None)}{told}, start: {plain(rule)}, "
                  f"ground: {plain(surface)}{slope}", *_splits_table(list(run))]  # fmt: skip
    lines += _turn_costs(splits)
    return [*lines, "", SIGMA_SAID]


def _by_kind(jumps: Sequence[JumpRecord]) -> list[tuple[tuple[str, str], list[JumpRecord]]]:
    order = {key: place for place, key in enumerate(EXERCISE_NAMES)}
    ordered = sorted(jumps, key=lambda kept: (order.get(_kind(kept)[0], len(order)), _kind(kept)))
    return [(kind, list(alike)) for kind, alike in groupby(ordered, key=_kind)]


def _kind(kept: JumpRecord) -> tuple[str, str]:
    return kept.exercise or "", kept.jump.take_off_side


def _run(split: SplitRecord) -> tuple[str, str, str, float, str]:
    """Only runs alike in all of this are compared."""
    return (
        split.exercise or "", split.start_rule, split.surface, split.slope_pct, split.side or ""
    )  # fmt: skip


def _run_side(exercise: str, side: str) -> str:
    return f"towards the {side}" if exercise == "shuffle_sprint" else f"{side} foot in front"


def _turn_costs(splits: Sequence[SplitRecord]) -> list[str]:
    names = ("date", "clip", "towards the", "to, m", "with the turn, s", "straight, s",
             "deficit, s")  # fmt: skip
    rows = [
        (
            cost.turning.on_date.isoformat(), plain(cost.turning.clip_name),
            cost.turning.side or NOT_MEASURED, f"{cost.distance_m:g}",
            *(show(time.value, time.sigma, least=2)
              for time in (cost.turning_s, cost.straight_s, cost.deficit_s)),
        )
        for cost in list_turn_costs(splits)
    ]  # fmt: skip
    return ["", TURN_COST_SAID, *lay_out([names, *rows])] if rows else []


def _splits_table(splits: Sequence[SplitRecord]) -> list[str]:
    names = ("date", "clip", "from, m", "to, m", "time, s")
    rows = [
        (split.on_date.isoformat(), plain(split.clip_name),
         "start" if split.from_m is None else f"{split.from_m:g}", f"{split.to_m:g}",
         show(split.time_s, split.time_sigma_s, least=2))
        for split in splits
    ]  # fmt: skip
    return lay_out([names, *rows])


def _feet(side: str) -> str:
    return "both feet" if side == "both" else f"the {side} foot"


def _table(jumps: Sequence[JumpRecord]) -> list[str]:
    names = ("date", "clip", "jump", "in the air, ms", "height, cm", "body's rise, cm",
             "ground, ms")  # fmt: skip
    rows = [
        (
            kept.on_date.isoformat(),
            plain(kept.clip_name),
            str(kept.number),
            show_ms(kept.jump.flight_time_s, kept.jump.flight_time_sigma_s),
            show_cm(kept.jump.height_m, kept.jump.height_sigma_m),
            show_cm(kept.jump.height_com_m, kept.jump.height_com_sigma_m),
            show_ms(kept.jump.contact_time_s, kept.jump.contact_time_sigma_s),
        )
        for kept in jumps
    ]
    return lay_out([names, *rows])


def _chart(jumps: Sequence[JumpRecord]) -> list[str]:
    """Draw the best height of each day on a line of its own, the doubt as a bar around it."""
    best = [
        (day, max((kept.jump for kept in of_day), key=lambda jump: jump.height_m))
        for day, of_day in groupby(jumps, key=lambda kept: kept.on_date)
    ]
    low_m, high_m = _span_m([jump for _, jump in best])
    left, right = f"{low_m * 100:.0f} cm", f"{high_m * 100:.0f} cm"
    lines = [f"  best height  {left}{right.rjust(CHART_WIDTH - len(left))}"]
    for day, jump in best:
        lines.append(f"  {day}   {_bar(jump, low_m=low_m, high_m=high_m)}")
    return lines


def _span_m(jumps: Sequence[JumpReport]) -> tuple[float, float]:
    low_m = min(jump.height_m - jump.height_sigma_m for jump in jumps)
    high_m = max(jump.height_m + jump.height_sigma_m for jump in jumps)
    # At least this wide, so that a small difference doesn't look like a large one.
    margin_m = max(0.0, (LEAST_SPAN_M - (high_m - low_m)) / 2)
    return low_m - margin_m, high_m + margin_m


def _bar(jump: JumpReport, *, low_m: float, high_m: float) -> str:
    def place(height_m: float) -> int:
        return round((height_m - low_m) / (high_m - low_m) * (CHART_WIDTH - 1))

    first = place(jump.height_m - jump.height_sigma_m)
    last = place(jump.height_m + jump.height_sigma_m)
    cells = ["·"] * CHART_WIDTH
    cells[first : last + 1] = ["━"] * (last - first + 1)
    cells[place(jump.height_m)] = "●"
    return "".join(cells)
