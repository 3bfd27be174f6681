"""From planned events and their pictures to the contacts and flights of a clip."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from calibration.values import Refused
from measure.contacts.coarse import CoarseFlight, Lift
from measure.contacts.doubt import JudgeSettings, doubt_if_hidden
from measure.contacts.fuse import cover_each_other, fuse_feet
from measure.contacts.hidden import FootEnd
from measure.contacts.judge import FootEvent, time_foot, unfollowed
from measure.contacts.patch import SOFT_SHADOW, SUN_SHADOW
from measure.contacts.plan import COARSE_SHORT_S, KINDS, EventKind, EventPlan
from measure.contacts.step import time_step_landing
from measure.contacts.trace import End, EventPictures, trace_event
from measure.types import FEET, Contact, Flight, Floats, Foot, Instant, Side

SHORTEST_FLIGHT_S = 0.05
VAGUEST_FLIGHT_SHARE = 0.2
"""A flight that is known no better than to this share of itself, and its height to twice that, is
not measured."""
SHORTEST_STEP_S = 0.08
"""No foot is lifted and put down again in less."""
SAME_CHANGE_S = 0.12
"""Events of one foot nearer than this are one."""
BEFORE_CLIP_S = -1.0
"""Contacts that began before the clip come first."""


@dataclass(frozen=True, slots=True)
class TimedEvent:
    """One planned event with what its pictures say."""

    plan: EventPlan
    event: FootEvent | Refused


@dataclass(frozen=True, slots=True)
class Segmentation:
    """Contacts and flights of a clip in time order, and what could not be timed."""

    contacts: tuple[Contact, ...]
    flights: tuple[Flight, ...]
    refusals: tuple[Refused, ...]
    untimed_s: tuple[tuple[float, float], ...] = ()
    """Jumps that were seen and not timed, start and end as the poses have them."""


def time_event(plan: EventPlan, pictures: EventPictures, interval_s: float) -> TimedEvent:
    """Look closely at one planned event.

    Where no shoe can be followed, what was taken for one may have been a shadow in the sun: then
    the like of it is left out.

    Parameters
    ----------
    plan : EventPlan
    pictures : EventPictures
    interval_s : float
        Time between distinct pictures.

    Returns
    -------
    TimedEvent
    """
    ends: tuple[End, ...] = ("toe", "heel") if plan.kind == "landing" else ("toe",)
    is_step_down = plan.flight is None and plan.kind == "landing"
    time_it = time_step_landing if is_step_down else time_foot
    event: FootEvent | Refused = unfollowed(plan)
    for shadow in (SOFT_SHADOW, SUN_SHADOW):
        traces = trace_event(pictures, ends=ends, shadow=shadow)
        event = time_it(plan, traces, px_per_m=pictures.px_per_m, interval_s=interval_s)
        if isinstance(event, FootEvent):
            if shadow.is_deep:
                sigma_s = JudgeSettings().second_look_factor * event.instant.sigma_s
                event = replace(event, instant=Instant(event.instant.time_s, sigma_s))
            break
    return TimedEvent(plan, event)


def segment_clip(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], events: Iterable[TimedEvent], *,
    time_s: Floats, unseen: Collection[FootEnd] = (),
) -> Segmentation:  # fmt: skip
    """Put contacts and flights together from everything that was timed.

    Parameters
    ----------
    flights, lifts : sequence
        The coarse look.
    events : iterable of TimedEvent
    time_s : ndarray of shape (T,)
        Real time of the pose rows.
    unseen : collection of FootEnd
        Feet that took part in a flight without being seen.

    Returns
    -------
    Segmentation
        A flight stands only where its take-off and its landing were both timed.
    """
    timed = list(events)
    found: list[Flight] = []
    refusals: list[Refused] = []
    untimed_s: list[tuple[float, float]] = []
    hiding: set[int] = set()  # flights at whose landing one foot hides the other
    for number, coarse in enumerate(flights):
        mine = [one for one in timed if one.plan.flight == number]
        coarse_s = (float(time_s[coarse.first_row]), float(time_s[coarse.last_row]))
        hidden = {(kind, foot) for of, kind, foot in unseen if of == number}
        flight = _flight(mine, coarse_s=coarse_s, hidden=hidden)
        if isinstance(flight, Flight):
            found.append(flight)
            if flight.one_foot_hides_other:
                hiding.add(number)
            refusals += [one.event for one in mine if isinstance(one.event, Refused)]
            refusals += [_unseen(kind, foot, coarse_s) for kind, foot in sorted(hidden)]
        else:
            refusals.append(flight)
            untimed_s += [coarse_s] if coarse.is_jump else []
    own = [_as_hidden(one) if one.plan.flight in hiding else one for one in timed]
    placed = [
        contact for foot in FEET for contact in _contacts_of(foot, lifts, own, time_s=time_s)
    ]
    contacts = tuple(contact for _, contact in sorted(placed, key=lambda one: one[0]))
    return Segmentation(contacts, tuple(found), tuple(refusals), tuple(untimed_s))


def _flight(
    timed: Sequence[TimedEvent], *, coarse_s: tuple[float, float],
    hidden: Collection[tuple[EventKind, Foot]],
) -> Flight | Refused:  # fmt: skip
    """Fuse what both feet say about one flight."""
    instants: dict[EventKind, Instant] = {}
    sides: dict[EventKind, Side] = {}
    covered: dict[EventKind, bool] = {}
    for kind in KINDS:
        mine = [one for one in timed if one.plan.kind == kind]
        seen = [one.event for one in mine if isinstance(one.event, FootEvent)]
        feet = {one.plan.foot for one in mine} | {foot for of, foot in hidden if of == kind}
        fused = fuse_feet(seen, kind=kind, foot_count=len(feet))
        if fused is None:
            return _untimed(kind, mine, coarse_s)
        instants[kind], sides[kind] = fused[0], _side(feet)
        covered[kind] = len(seen) == 2 and cover_each_other(*seen)
    lasts_s = instants["landing"].time_s - instants["take_off"].time_s
    if lasts_s < SHORTEST_FLIGHT_S:
        return _untimed("landing", [], coarse_s)
    sigma_s = math.hypot(*(one.sigma_s for one in instants.values()))
    if sigma_s > VAGUEST_FLIGHT_SHARE * lasts_s:
        vaguest = max(KINDS, key=lambda kind: instants[kind].sigma_s)
        return _untimed(vaguest, [], coarse_s)
    return Flight(
        instants["take_off"], instants["landing"], sides["take_off"], sides["landing"], coarse_s,
        one_foot_hides_other=covered["landing"],
    )  # fmt: skip


def _as_hidden(one: TimedEvent) -> TimedEvent:
    """A foot's landing, should the other one's shoe have been followed instead."""
    if one.plan.kind != "landing" or isinstance(one.event, Refused):
        return one
    own = one.event.instant
    sigma_s = doubt_if_hidden(own.sigma_s, JudgeSettings())
    return replace(one, event=replace(one.event, instant=Instant(own.time_s, sigma_s)))


def _side(feet: set[Foot]) -> Side:
    """Which foot took part; one that was planned or hidden counts with a timed one."""
    if len(feet) == 2:
        return "both"
    return next(iter(feet))


def _unseen(kind: EventKind, foot: Foot, coarse_s: tuple[float, float]) -> Refused:
    at_s = coarse_s[0] if kind == "take_off" else coarse_s[1]
    return Refused(
        f"{foot} foot {kind.replace('_', '-')} at {at_s:.2f} s", "that foot is hidden there",
        "Keep others out of the picture, and film so that both feet show.",
    )


def _untimed(
    kind: EventKind, timed: Sequence[TimedEvent], coarse_s: tuple[float, float]
) -> Refused:
    name = kind.replace("_", "-")
    at_s = coarse_s[0] if kind == "take_off" else coarse_s[1]
    what = f"jump at {coarse_s[0]:.2f} s"
    for one in timed:
        if isinstance(one.event, Refused):
            return Refused(what, f"{name}: {one.event.reason}", one.event.hint)
    return Refused(
        what, f"no foot can be seen well at its {name} (about {at_s:.2f} s)",
        "Let the clip begin and end a second before and after the jump, both feet in view.",
    )  # fmt: skip


def _contacts_of(
    foot: Foot, lifts: Sequence[Lift], timed: Sequence[TimedEvent], *, time_s: Floats
) -> list[tuple[float, Contact]]:
    """Contacts of one foot between its lifts, with every instant that was timed.

    Each comes after its place in time: where it begins, roughly where that was not timed.
    """
    mine = [
        lift
        for lift in lifts
        if lift.foot == foot
        and not _is_shaking(lift, timed, time_s=time_s)
        and not _is_disproved(lift, timed, time_s=time_s)
    ]
    leaving = [_instant(timed, foot, "take_off", time_s[lift.first_row]) for lift in mine]
    meeting = [_instant(timed, foot, "landing", time_s[lift.last_row]) for lift in mine]
    contacts: list[tuple[float, Contact]] = []
    if not mine or mine[0].starts_in_clip:
        contacts.append((BEFORE_CLIP_S, Contact(foot, None, leaving[0] if mine else None)))
    for number, lift in enumerate(mine):
        if lift.ends_in_clip:
            start = meeting[number]
            following = leaving[number + 1] if number + 1 < len(mine) else None
            rough_s = float(time_s[lift.last_row])
            place_s = rough_s if start is None else start.time_s
            contacts.append((place_s, Contact(foot, start, following, rough_s)))
    return contacts


def _is_shaking(lift: Lift, timed: Sequence[TimedEvent], *, time_s: Floats) -> bool:
    """Tell a lift too short to be a step that nothing was looked at for: the pose shook."""
    start_s, end_s = time_s[lift.first_row], time_s[lift.last_row]
    looked = any(
        one.plan.foot == lift.foot and start_s <= one.plan.coarse_s <= end_s for one in timed
    )
    in_clip = lift.starts_in_clip and lift.ends_in_clip
    is_short = end_s - start_s + COARSE_SHORT_S < SHORTEST_STEP_S
    return bool(in_clip and is_short and not looked)


def _is_disproved(lift: Lift, timed: Sequence[TimedEvent], *, time_s: Floats) -> bool:
    """Tell a lift that only the pose saw: looked at closely, neither end shows a moving foot."""
    at_s = {"take_off": time_s[lift.first_row], "landing": time_s[lift.last_row]}
    looked = [
        one
        for one in timed
        if one.plan.foot == lift.foot
        and abs(one.plan.coarse_s - at_s[one.plan.kind]) < SAME_CHANGE_S
    ]
    in_flight = any(one.plan.flight is not None for one in looked)
    failed = all(isinstance(one.event, Refused) for one in looked)
    return bool(looked) and failed and not in_flight


def _instant(
    timed: Sequence[TimedEvent], foot: Foot, kind: EventKind, at_s: float
) -> Instant | None:
    near = [
        one.event.instant
        for one in timed
        if isinstance(one.event, FootEvent)
        and (one.plan.foot, one.plan.kind) == (foot, kind)
        and abs(one.event.instant.time_s - at_s) < SAME_CHANGE_S
    ]
    return min(near, key=lambda instant: abs(instant.time_s - at_s)) if near else None
