"""A batch as lines: each clip as it ends, and what came of all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from app.report.quantities import plain, show, show_cm

if TYPE_CHECKING:
    from app.jobs.batch import Ended

MEANINGS = {
    "measured": "measured and saved",
    "present": "in the history already",
    "settled": "without a number, as found before",
    "no_number": "without a number",
    "unreadable": "unreadable",
    "fault": "stopped by a fault in flightmark",
}


def render_ended(ended: Ended) -> str:
    """Give one clip's end in a line."""
    name = f"{plain(ended.item.path.name)}, {plain(ended.item.athlete)}: "
    if ended.report is not None:
        return name + _numbers(ended.report)
    return name + (plain(" ".join(ended.said.split())[-300:]) or MEANINGS[ended.end])


def render_ends(ends: Sequence[Ended]) -> list[str]:
    """Give what came of all clips."""
    counts = Counter(ended.end for ended in ends)
    told = [f"{counts[end]} {meaning}" for end, meaning in MEANINGS.items() if counts[end]]
    lines = [f"{len(ends)} clips: {', '.join(told)}."]
    if counts["fault"]:
        lines.append("Call again to try the ones with a fault once more; please report the fault.")
    return lines


def _numbers(report: dict[str, Any]) -> str:
    jumps = report.get("jumps", ())
    words = []
    if jumps:
        best = max(jumps, key=lambda jump: jump["height_m"])
        count = "1 jump" if len(jumps) == 1 else f"{len(jumps)} jumps, best"
        words.append(f"{count} {show_cm(best['height_m'], best['height_sigma_m'])} cm")
    for split in report.get("sprint", {}).get("splits", ()):
        words.append(
            f"to {split['to_m']:g} m {show(split['time_s'], split['time_sigma_s'], least=2)} s"
        )
    return "; ".join(words)
