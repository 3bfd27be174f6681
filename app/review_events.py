"""The events of a kept report that a person may look at and move."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.report.units import Units
from measure.review import HAND_SIGMA_FRAMES, EventKind, EventMove
from measure.types import Instant

PLAIN = Units()
JUMP_EVENTS: tuple[tuple[EventKind, str], ...] = (("take_off", "take-off"), ("landing", "landing"))


@dataclass(frozen=True)
class EventMark:
    """One event on the film."""

    kind: EventKind
    number: int
    """Which jump or mark, from 1; 0 for the start."""
    time_s: float
    sigma_s: float
    label: str

    @property
    def name(self) -> str:
        """A short name, the same each time."""
        return f"{self.kind}{self.number}"


def list_events(report: Mapping[str, Any], units: Units = PLAIN) -> list[EventMark]:
    """Give the events of a report in order of time, distances in the units that somebody reads."""
    events = []
    jumps = report.get("jumps", ())
    for number, jump in enumerate(jumps, start=1):
        which = f" {number}" if len(jumps) > 1 else ""
        for kind, word in JUMP_EVENTS:
            events.append(
                EventMark(kind, number, jump[f"{kind}_s"], jump[f"{kind}_sigma_s"], word + which)
            )
    sprint = report.get("sprint") or {}
    if sprint.get("start_s") is not None:
        sigma_s = sprint.get("start_sigma_s") or 0.0
        events.append(EventMark("start", 0, sprint["start_s"], sigma_s, "start"))
    for number, mark in enumerate(sprint.get("marks", ()), start=1):
        label = units.distance(mark["distance_m"])
        events.append(EventMark("crossing", number, mark["time_s"], mark["time_sigma_s"], label))
    return sorted(events, key=lambda event: event.time_s)


def find_nearest(events: Sequence[EventMark], time_s: float) -> int:
    """Give the place of the event nearest to a moment: it is meant by who takes a frame there."""
    return min(range(len(events)), key=lambda place: abs(events[place].time_s - time_s))


def make_move(
    event: EventMark, time_s: float, report: Mapping[str, Any], *, is_frame: bool
) -> EventMove:
    """Give the move of an event to a moment that a person chose.

    A frame that was taken is the first one after the event: the event lies half a frame before it.

    Raises
    ------
    ValueError
        The moment lies outside the clip.
    """
    duration_s = float(report["clip"]["duration_s"])
    if not (math.isfinite(time_s) and 0 <= time_s <= duration_s):
        raise ValueError(f"The clip lasts {duration_s:.3f} s; {time_s:.3f} s lies outside.")
    frame_s = 1 / float(report["time_base"]["capture_rate_hz"])
    at_s = max(time_s - frame_s / 2, 0.0) if is_frame else time_s
    return EventMove(event.kind, event.number, Instant(at_s, HAND_SIGMA_FRAMES * frame_s))
