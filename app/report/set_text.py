"""Several jumps of one clip summed up: best, mean, drop-off, rests, ground contacts, sides."""

from __future__ import annotations

from collections.abc import Sequence

from app.report.quantities import show
from calibration.values import Estimate, Refused
from measure.jump_set import summarise_jumps
from measure.report import JumpReport, Report
from measure.sets import SetSummary, summarise_set
from measure.sides import compare_sides

FEET = {"both": "both feet", "left": "the left foot", "right": "the right foot"}
HEIGHT_FIELDS = (("height_com_m", "Body's rise"), ("height_m", "Height"))


def render_set(report: Report) -> list[str]:
    """Give sentences about all jumps of a clip together; nothing for a single jump."""
    jumps = report.jumps
    if len(jumps) < 2:
        return []
    together = report.jump_set or summarise_jumps(jumps, contacts=report.contacts)
    assert together is not None
    lines = [
        f"Together: {len(jumps)} jumps in {_count(together.repetition_count, 'repetition')}, "
        f"{_count(together.ground_contact_count, 'ground contact')}."
    ]
    if together.rests_s:
        rests = zip(together.rests_s, together.rests_sigma_s, strict=True)
        shown = ", ".join(show(rest_s, sigma_s, least=1) for rest_s, sigma_s in rests)
        lines.append(f"Rest between repetitions: {shown} s.")
    for side in ("both", "left", "right"):
        lines += _of_side([(n, jump) for n, jump in enumerate(jumps, 1)
                           if jump.take_off_side == side])  # fmt: skip
    return [*lines, *_sides(jumps)]


def _of_side(numbered: Sequence[tuple[int, JumpReport]]) -> list[str]:
    """Sum up jumps off the same foot or feet."""
    if len(numbered) < 2:
        return []
    jumps = [jump for _, jump in numbered]
    numbers = [number for number, _ in numbered]
    field, name = _height_field(jumps)
    of_side = f" off {FEET[jumps[0].take_off_side]}"
    lines = [_sentence(
        f"{name}{of_side}", summarise_set(_estimates(jumps, field)), numbers,
        per_unit=100.0, unit="cm", least=1,
    )]  # fmt: skip
    with_rsi = [(number, jump) for number, jump in numbered if jump.rsi_mps is not None]
    if len(with_rsi) > 1:
        summary = summarise_set(_estimates([jump for _, jump in with_rsi], "rsi_mps"))
        rsi_numbers = [number for number, _ in with_rsi]
        lines.append(_sentence(f"RSI{of_side}", summary, rsi_numbers, unit="m/s", least=2))
    return lines


def _height_field(jumps: Sequence[JumpReport]) -> tuple[str, str]:
    """Choose the height without landing posture where every jump has it."""
    field, name = HEIGHT_FIELDS[0]
    has_all = all(getattr(jump, field) is not None for jump in jumps)
    return (field, name) if has_all else HEIGHT_FIELDS[1]


def _estimates(jumps: Sequence[JumpReport], field: str) -> list[Estimate]:
    stem, unit = field.rsplit("_", 1)
    return [
        Estimate(getattr(jump, field), getattr(jump, f"{stem}_sigma_{unit}") or 0.0)
        for jump in jumps
    ]


def _sentence(
    name: str, summary: SetSummary, numbers: Sequence[int], *, unit: str, least: int,
    per_unit: float = 1.0,
) -> str:  # fmt: skip
    best = show(summary.best.value, summary.best.sigma, per_unit=per_unit, least=least)
    mean = show(summary.mean.value, summary.mean.sigma, per_unit=per_unit, least=least)
    parts = [f"best {best} {unit} (jump {numbers[summary.best_number - 1]})", f"mean {mean} {unit}"]
    if summary.spread is not None:
        parts.append(f"spread {summary.spread * per_unit:.{least}f} {unit}")
    if summary.best_number == summary.count:
        parts.append("the last was the best")
    elif summary.drop_off_pct is not None:
        drop = show(summary.drop_off_pct.value, summary.drop_off_pct.sigma)
        parts.append(f"the last {drop} % below the best")
    return f"{name}: {', '.join(parts)}."


def _sides(jumps: Sequence[JumpReport]) -> list[str]:
    """Compare left with right, by the mean height of each."""
    sides = [[jump for jump in jumps if jump.take_off_side == side] for side in ("left", "right")]
    if not all(sides):
        return []
    field, name = _height_field([*sides[0], *sides[1]])
    left, right = (summarise_set(_estimates(side, field)).mean for side in sides)
    compared = compare_sides(left=left, right=right)
    return [] if isinstance(compared, Refused) else [f"{name}, left against right: {compared.text}"]


def _count(number: int, name: str) -> str:
    return f"{number} {name}{'' if number == 1 else 's'}"
