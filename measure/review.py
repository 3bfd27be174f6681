"""Events moved by hand: every number of a report that hangs on them, made again.

No film is needed. How far a body's centre rose is taken from its own top, which an earlier
analysis fixed and which does not depend on when somebody says that a foot left.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any, Literal

from calibration.values import Refused
from measure.physics import height_from_flight
from measure.report import JumpReport, LandingReport, SplitTime, SprintReport
from measure.types import Contact, Flight, Instant

__all__ = ["EventMove", "Reviewed", "review_events"]

SAME_MOMENT_S = 1e-3
HAND_SIGMA_FRAMES = 0.6
"""A person who picks the first frame in the air or on the ground: the event lies within the frame
before (0.29), and two people differ by half a frame."""
AT_CONTACT = ("_contact_", "_change_", "trunk_side_lean", "stance_width", "foot_lag")
"""Numbers of a landing that are read at its first touch."""

EventKind = Literal["take_off", "landing", "start", "crossing"]


@dataclass(frozen=True, slots=True)
class EventMove:
    """An event set by hand."""

    kind: EventKind
    number: int
    """Which jump or mark, from 1; 0 for the start."""
    to: Instant


@dataclass(frozen=True, slots=True)
class Reviewed:
    """What of a report hangs on its events."""

    jumps: tuple[JumpReport, ...] = ()
    contacts: tuple[Contact, ...] = ()
    sprint: SprintReport | None = None
    refusals: tuple[Refused, ...] = field(default=())
    """What moving an event takes away until the clip is measured again."""


def review_events(measured: Reviewed, *, moves: Sequence[EventMove]) -> Reviewed:
    """Make every number anew that hangs on moved events.

    Parameters
    ----------
    measured : Reviewed
        As the analysis gave it.
    moves : sequence of EventMove
        In the order in which they were made; a later move of the same event counts.

    Returns
    -------
    Reviewed

    Raises
    ------
    ValueError
        When there is no such event, or a landing would come before its take-off.

    Notes
    -----
    The height above standing keeps its value: a later take-off lowers the rise after it by what
    it adds to the rise before it. *Wrong* where an event is moved by more than a few frames: the
    body's path was fitted between the old events.
    """
    for move in moves:
        if move.kind in ("take_off", "landing"):
            measured = _move_jump_event(measured, move)
        else:
            measured = replace(measured, sprint=_move_sprint_event(measured.sprint, move))
    return measured


def _move_jump_event(measured: Reviewed, move: EventMove) -> Reviewed:
    if not 1 <= move.number <= len(measured.jumps):
        raise ValueError(f"number: expected 1 to {len(measured.jumps)}, got {move.number}")
    jumps = list(measured.jumps)
    old = jumps[move.number - 1]
    before_s = old.take_off_s if move.kind == "take_off" else old.landing_s
    changed = _move_take_off(old, move.to) if move.kind == "take_off" else _land(old, move.to)
    jumps[move.number - 1] = _with_flight(old, changed)
    if move.kind == "landing" and move.number < len(jumps):
        jumps[move.number] = _with_touchdown(jumps[move.number], before_s, move.to)
    _check_order(jumps)
    return replace(
        measured,
        jumps=tuple(jumps),
        contacts=tuple(_move_contact(each, before_s, move) for each in measured.contacts),
        refusals=(*measured.refusals, *_lost(old, move)),
    )


def _check_order(jumps: Sequence[JumpReport]) -> None:
    for before, after in pairwise(jumps):
        if after.take_off_s <= before.landing_s:
            raise ValueError("event: a jump can't begin before the one before it has landed")


def _move_take_off(jump: JumpReport, to: Instant) -> JumpReport:
    later_s = to.time_s - jump.take_off_s
    changes: dict[str, Any] = {"take_off_s": to.time_s, "take_off_sigma_s": to.sigma_s}
    if jump.contact_time_s is not None and jump.contact_time_sigma_s is not None:
        changes["contact_time_s"] = jump.contact_time_s + later_s
        changes["contact_time_sigma_s"] = _swap_sigma(
            jump.contact_time_sigma_s, jump.take_off_sigma_s, to.sigma_s
        )
    return replace(jump, **changes, **_height_com(jump, to))


def _height_com(jump: JumpReport, to: Instant) -> dict[str, Any]:
    """Rise after the new take-off, to the top that was measured: g (t_top - t)² / 2."""
    if jump.height_com_m is None or jump.height_com_sigma_m is None:
        return {}
    gravity_mps2 = _gravity_mps2(jump)
    rise_s = math.sqrt(2 * jump.height_com_m / gravity_mps2)
    sigma_s = jump.height_com_sigma_m / (gravity_mps2 * rise_s)
    new_rise_s = jump.take_off_s + rise_s - to.time_s
    if new_rise_s <= 0:
        raise ValueError("take_off: expected before the top of the flight")
    new_sigma_s = _swap_sigma(sigma_s, jump.take_off_sigma_s, to.sigma_s)
    return {
        "height_com_m": gravity_mps2 * new_rise_s**2 / 2,
        "height_com_sigma_m": gravity_mps2 * new_rise_s * new_sigma_s,
    }


def _gravity_mps2(jump: JumpReport) -> float:
    """The gravity that the analysis took, from its own height and time: g = 8 h / T²."""
    return 8 * jump.height_m / jump.flight_time_s**2


def _swap_sigma(total: float, old: float, new: float) -> float:
    """Take one share out of a combined doubt and put another in."""
    return math.sqrt(max(total**2 - old**2, 0.0) + new**2)


def _land(jump: JumpReport, to: Instant) -> JumpReport:
    landing = jump.landing and _later_landing(jump.landing, to.time_s - jump.landing_s)
    return replace(jump, landing_s=to.time_s, landing_sigma_s=to.sigma_s, landing=landing)


def _later_landing(landing: LandingReport, later_s: float) -> LandingReport:
    gone: dict[str, Any] = {
        each.name: None
        for each in dataclasses.fields(landing)
        if any(word in each.name for word in AT_CONTACT)
    }
    for name in ("time_to_steady_s", "held_s"):
        value = getattr(landing, name)
        gone[name] = None if value is None else max(value - later_s, 0.0)
    return replace(landing, **gone)


def _with_flight(old: JumpReport, jump: JumpReport) -> JumpReport:
    """Time in the air, height from it, and reactive strength."""
    if jump.landing_s <= jump.take_off_s:
        raise ValueError("event: a landing comes after its take-off")
    flight = Flight(
        Instant(jump.take_off_s, jump.take_off_sigma_s),
        Instant(jump.landing_s, jump.landing_sigma_s),
        jump.take_off_side, jump.landing_side,
    )  # fmt: skip
    height = height_from_flight(flight, gravity_mps2=_gravity_mps2(old))
    return _with_rsi(replace(
        jump,
        flight_time_s=jump.landing_s - jump.take_off_s,
        flight_time_sigma_s=math.hypot(jump.take_off_sigma_s, jump.landing_sigma_s),
        height_m=height.value, height_sigma_m=height.sigma,
    ))  # fmt: skip


def _with_touchdown(jump: JumpReport, before_s: float, to: Instant) -> JumpReport:
    """The contact before a jump begins with the landing of the one before it."""
    if jump.contact_time_s is None or jump.contact_time_sigma_s is None:
        return jump
    if abs(jump.take_off_s - jump.contact_time_s - before_s) > SAME_MOMENT_S:
        return jump
    return _with_rsi(replace(
        jump, contact_time_s=jump.take_off_s - to.time_s,
        contact_time_sigma_s=math.hypot(jump.take_off_sigma_s, to.sigma_s),
    ))  # fmt: skip


def _with_rsi(jump: JumpReport) -> JumpReport:
    """Height over contact time; the take-off that both share is counted in each."""
    if jump.rsi_mps is None or not jump.contact_time_s or jump.contact_time_sigma_s is None:
        return jump
    if jump.contact_time_s <= 0:
        raise ValueError("event: the contact before the jump would have no length")
    rsi_mps = jump.height_m / jump.contact_time_s
    share = math.hypot(
        jump.height_sigma_m / jump.height_m, jump.contact_time_sigma_s / jump.contact_time_s
    )
    return replace(jump, rsi_mps=rsi_mps, rsi_sigma_mps=rsi_mps * share)


def _move_contact(contact: Contact, before_s: float, move: EventMove) -> Contact:
    is_end = move.kind == "take_off"
    instant = contact.end if is_end else contact.start
    if instant is None or abs(instant.time_s - before_s) > SAME_MOMENT_S:
        return contact
    return replace(contact, end=move.to) if is_end else replace(contact, start=move.to)


def _lost(jump: JumpReport, move: EventMove) -> tuple[Refused, ...]:
    if move.kind != "landing" or jump.landing is None:
        return ()
    return (Refused(
        f"jump {move.number} landing at first touch",
        "The landing was moved by hand; posture at the first touch was read at the old moment.",
        "Everything else about the landing stands.",
    ),)  # fmt: skip


def _move_sprint_event(sprint: SprintReport | None, move: EventMove) -> SprintReport:
    if sprint is None:
        raise ValueError("event: there is no sprint in this clip")
    if move.kind == "start":
        moved = replace(
            sprint, start_s=move.to.time_s, start_sigma_s=move.to.sigma_s,
            start_rule=_by_hand(sprint.start_rule),
        )  # fmt: skip
    elif 1 <= move.number <= len(sprint.marks):
        marks = list(sprint.marks)
        marks[move.number - 1] = replace(
            marks[move.number - 1], time_s=move.to.time_s, time_sigma_s=move.to.sigma_s
        )
        moved = replace(sprint, marks=tuple(marks))
    else:
        raise ValueError(f"number: expected 1 to {len(sprint.marks)}, got {move.number}")
    return _with_splits(sprint, moved)


def _by_hand(rule: str) -> str:
    # A start that a person saw is another start rule: such times are not compared with others.
    return rule if rule.endswith("set by hand") else f"{rule}, set by hand"


def _with_splits(old: SprintReport, sprint: SprintReport) -> SprintReport:
    """Splits whose ends moved; the others keep what neighbouring marks share."""
    points = [(None, sprint.start_s, sprint.start_sigma_s)] if sprint.start_s is not None else []
    timed = [*points, *((mark.distance_m, mark.time_s, mark.time_sigma_s) for mark in sprint.marks)]
    splits = []
    for before, after in pairwise(timed):
        split = _split(before, after)
        kept = next((each for each in old.splits if _is_same(each, split)), None)
        splits.append(kept or split)
    return replace(sprint, splits=tuple(splits))


def _split(before: tuple[Any, Any, Any], after: tuple[Any, Any, Any]) -> SplitTime:
    time_s = after[1] - before[1]
    if time_s <= 0:
        raise ValueError("crossing: marks are passed one after the other")
    length_m = None if before[0] is None else abs(after[0] - before[0])
    mean_mps = None if length_m is None else length_m / time_s
    sigma_s = math.hypot(before[2] or 0.0, after[2])
    return SplitTime(after[0], time_s, sigma_s, before[0], mean_mps)


def _is_same(one: SplitTime, other: SplitTime) -> bool:
    ends = (one.from_m, one.to_m) == (other.from_m, other.to_m)
    return ends and abs(one.time_s - other.time_s) < SAME_MOMENT_S / 1000
