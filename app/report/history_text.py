"""An athlete's kept jumps: as lines with a small chart, and as rows of a CSV file."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from app.exercises import EXERCISE_NAMES, name_exercise
from app.history.mapping import JUMP_COLUMNS, ResultRecord
from app.report.quantities import lay_out, plain, show_cm, show_ms
from app.report.text import SIGMA_SAID
from measure.report import JumpReport

CHART_WIDTH = 48
LEAST_SPAN_M = 0.10
CSV_COLUMNS = (
    "athlete", "date", "recorded_at_utc", "exercise", "clip", "clip_sha256", "jump",
    *JUMP_COLUMNS, "flightmark_version",
)  # fmt: skip


@dataclass(frozen=True)
class KeptJump:
    """One jump with the result that it stands in."""

    result: ResultRecord
    number: int
    jump: JumpReport

    @property
    def kind(self) -> tuple[str, str]:
        """Only jumps of one exercise and one take-off side are compared."""
        return self.result.exercise or "", self.jump.take_off_side


def render_history(results: Sequence[ResultRecord], *, athlete: str) -> list[str]:
    """Give an athlete's jumps over time, one table and chart per exercise and side.

    Parameters
    ----------
    results : sequence of ResultRecord
        From the oldest to the newest.
    athlete : str

    Returns
    -------
    list of str
    """
    lines = [plain(athlete)]
    for (exercise, side), jumps in _by_kind(results):
        lines += ["", f"{name_exercise(exercise or None)}, off {_feet(side)}"]
        lines += [*_table(jumps), "", *_chart(jumps)]
    return [*lines, "", SIGMA_SAID]


def list_csv_rows(results: Sequence[ResultRecord]) -> Iterator[tuple[object, ...]]:
    """Give one row per jump under ``CSV_COLUMNS``; empty means not measured."""
    for kept in _jumps(results):
        result = kept.result
        numbers = dataclasses.asdict(dataclasses.replace(kept.jump, landing=None))
        recorded_at = result.recorded_at and result.recorded_at.strftime("%Y-%m-%dT%H:%M:%SZ")
        yield (
            result.athlete, result.on_date.isoformat(), recorded_at, result.exercise,
            result.clip_name, result.clip_sha256, kept.number,
            *(numbers[name] for name in JUMP_COLUMNS), result.flightmark_version,
        )  # fmt: skip


def _jumps(results: Sequence[ResultRecord]) -> Iterator[KeptJump]:
    for result in results:
        for number, jump in enumerate(result.jumps, start=1):
            yield KeptJump(result, number, jump)


def _by_kind(results: Sequence[ResultRecord]) -> list[tuple[tuple[str, str], list[KeptJump]]]:
    order = {key: place for place, key in enumerate(EXERCISE_NAMES)}
    ordered = sorted(
        _jumps(results),
        key=lambda kept: (order.get(kept.kind[0], len(order)), kept.kind),
    )
    return [(kind, list(jumps)) for kind, jumps in groupby(ordered, key=lambda kept: kept.kind)]


def _feet(side: str) -> str:
    return "both feet" if side == "both" else f"the {side} foot"


def _table(jumps: Sequence[KeptJump]) -> list[str]:
    names = ("date", "clip", "jump", "in the air, ms", "height, cm", "body's rise, cm",
             "ground, ms")  # fmt: skip
    rows = [
        (
            kept.result.on_date.isoformat(),
            plain(kept.result.clip_name),
            str(kept.number),
            show_ms(kept.jump.flight_time_s, kept.jump.flight_time_sigma_s),
            show_cm(kept.jump.height_m, kept.jump.height_sigma_m),
            show_cm(kept.jump.height_com_m, kept.jump.height_com_sigma_m),
            show_ms(kept.jump.contact_time_s, kept.jump.contact_time_sigma_s),
        )
        for kept in jumps
    ]
    return lay_out([names, *rows])


def _chart(jumps: Sequence[KeptJump]) -> list[str]:
    """Draw the best height of each day on a line of its own, the doubt as a bar around it."""
    best = [
        (day, max((kept.jump for kept in of_day), key=lambda jump: jump.height_m))
        for day, of_day in groupby(jumps, key=lambda kept: kept.result.on_date)
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
