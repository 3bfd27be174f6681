"""What a new analysis changed, as lines."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from app.report.quantities import plain, show_cm, show_ms

if TYPE_CHECKING:
    from app.jobs.reanalysis import Reanalysed

SAME_JUMP_S = 0.1
"""Take-offs of one jump in two analyses lie closer than this."""
SHOWN = (
    ("height_m", "height_sigma_m", "height", "cm"),
    ("height_com_m", "height_com_sigma_m", "body's rise", "cm"),
    ("flight_time_s", "flight_time_sigma_s", "in the air", "ms"),
    ("contact_time_s", "contact_time_sigma_s", "ground", "ms"),
)
MEANINGS = {
    "measured": "measured again",
    "present": "up to date already",
    "by_hand": "left as they are, because somebody moved an event by hand",
    "no_clip": "without their clip: give --clips a folder that has it",
    "no_number": "kept as they are, because the new analysis gives no number",
    "fault": "stopped by a fault in flightmark",
}


@dataclass(frozen=True)
class Change:
    """One number before and after; None where there is none."""

    jump: int
    name: str
    unit: str
    before: tuple[float, float] | None
    after: tuple[float, float] | None

    @property
    def is_beyond_doubt(self) -> bool:
        """Whether it moved by more than both sigmas together, or came or went."""
        if self.before is None or self.after is None:
            return True
        moved = abs(self.after[0] - self.before[0])
        return moved > math.hypot(self.before[1], self.after[1])


def list_changes(before: dict[str, Any], after: dict[str, Any]) -> list[Change]:
    """Give the numbers of two reports of one clip that differ."""
    changes: list[Change] = []
    for number, (old, new) in enumerate(_pairs(before, after), start=1):
        for value, sigma, name, unit in SHOWN:
            was, now = (
                (jump[value], jump[sigma]) if value in jump else None for jump in (old, new)
            )
            if was != now:
                changes.append(Change(number, name, unit, was, now))
    return changes


def _pairs(before: dict[str, Any], after: dict[str, Any]) -> Iterator[tuple[Any, Any]]:
    left = list(after.get("jumps", ()))
    for old in before.get("jumps", ()):
        near = [jump for jump in left if abs(jump["take_off_s"] - old["take_off_s"]) < SAME_JUMP_S]
        for jump in near[:1]:
            left.remove(jump)
        yield old, (near or [{}])[0]
    for new in left:
        yield {}, new


def render_reanalysed(done: Reanalysed) -> list[str]:
    """Give what became of one result."""
    name = f"{done.before.on_date} {plain(done.before.clip_name)}, {plain(done.before.athlete)}"
    if done.report is None:
        told = plain(" ".join(done.said.split())[-300:]) or MEANINGS[done.fate]
        return [] if done.fate == "present" else [f"{name}: {told}"]
    changes = list_changes(done.before.report, done.report)
    if not changes:
        return []
    return [f"{name}:", *(f"  jump {each.jump} {_words(each)}" for each in changes)]


def render_reanalysis(all_done: Sequence[Reanalysed]) -> list[str]:
    """Give what became of all results."""
    fates = Counter(done.fate for done in all_done)
    told = [f"{fates[fate]} {meaning}" for fate, meaning in MEANINGS.items() if fates[fate]]
    changes = [
        list_changes(done.before.report, done.report)
        for done in all_done
        if done.report is not None
    ]
    alike = sum(not each for each in changes)
    beyond = sum(any(change.is_beyond_doubt for change in each) for each in changes)
    lines = [f"{len(all_done)} results: {', '.join(told)}."]
    if changes:
        within = len(changes) - alike - beyond
        lines.append(
            f"Of those measured again {alike} have the same numbers, {within} moved within their "
            f"doubt, {beyond} beyond it. The old results are kept."
        )
    return lines


def _words(change: Change) -> str:
    show = show_cm if change.unit == "cm" else show_ms
    before, after = (show(*(pair or (None, None))) for pair in (change.before, change.after))
    return f"{change.name}: {before} → {after} {change.unit}"
