"""From planned events and their pictures to the contacts and flights of a clip."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from calibration.values import Refused
from measure.contacts.coarse import CoarseFlight, FootHeights, Lift
from measure.contacts.judge import FootEvent, fuse_feet, time_foot
from measure.contacts.plan import EventKind, EventPlan
from measure.contacts.trace import EventPictures, trace_event
from measure.types import Contact, Flight, Floats, Foot, Instant, Side

SAME_CHANGE_S = 0.12
"""Events of one foot nearer than this are one."""


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


def time_event(plan: EventPlan, pictures: EventPictures, *, interval_s: float) -> TimedEvent:
    """Look closely at one planned event.

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
    traces = trace_event(pictures)
    event = time_foot(plan, traces, px_per_m=pictures.px_per_m, interval_s=interval_s)
    return TimedEvent(plan, event)


def segment_clip(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], events: Iterable[TimedEvent], *,
    time_s: Floats,
) -> Segmentation:  # fmt: skip
    """Put contacts and flights together from everything that was timed.

    Parameters
    ----------
    flights, lifts : sequence
        The coarse look.
    events : iterable of TimedEvent
    time_s : ndarray of shape (T,)
        Real time of the pose rows.

    Returns
    -------
    Segmentation
        A flight stands only where its take-off and its landing were both timed.
    """
    by_flight: dict[tuple[int, EventKind], list[TimedEvent]] = defaultdict(list)
    for timed in events:
        by_flight[timed.plan.flight, timed.plan.kind].append(timed)
    found, refusals = [], []
    for number, coarse in enumerate(flights):
        flight = _flight(
            by_flight[number, "take_off"], by_flight[number, "landing"],
            coarse_s=(float(time_s[coarse.first_row]), float(time_s[coarse.last_row])),
        )  # fmt: skip
        (refusals if isinstance(flight, Refused) else found).append(flight)  # type: ignore[arg-type]
    contacts = _contacts(lifts, by_flight, time_s)
    return Segmentation(tuple(contacts), tuple(found), tuple(refusals))  # type: ignore[arg-type]


def _flight(
    leaving: Sequence[TimedEvent], arriving: Sequence[TimedEvent], *, coarse_s: tuple[float, float]
) -> Flight | Refused:
    ends = []
    for kind, timed in (("take_off", leaving), ("landing", arriving)):
        fused = fuse_feet([one.event for one in timed if isinstance(one.event, FootEvent)],
                          kind=kind)  # type: ignore[arg-type]  # fmt: skip
        if fused is None:
            return _untimed(kind, timed, coarse_s)
        ends.append((fused, _side(timed)))
    (take_off, _), leave_side = ends[0]
    (landing, _), land_side = ends[1]
    if landing.time_s - take_off.time_s < 0.05:
        return _untimed("landing", arriving, coarse_s)
    return Flight(take_off, landing, leave_side, land_side, coarse_s)


def _side(timed: Sequence[TimedEvent]) -> Side:
    """Which foot took part; a foot that was planned but not timed counts with a timed one."""
    feet = {one.plan.foot for one in timed}
    if len(feet) == 2:
        return "both"
    return next(iter(feet))


def _untimed(kind: str, timed: Sequence[TimedEvent], coarse_s: tuple[float, float]) -> Refused:
    name = kind.replace("_", "-")
    at_s = coarse_s[0] if kind == "take_off" else coarse_s[1]
    for one in timed:
        if isinstance(one.event, Refused):
            return Refused(f"jump at {coarse_s[0]:.2f} s", f"{name}: {one.event.reason}",
                           one.event.hint)  # fmt: skip
    return Refused(
        what=f"jump at {coarse_s[0]:.2f} s",
        reason=f"no foot can be seen well at its {name} (about {at_s:.2f} s)",
        hint="Let the clip begin and end a second before and after the jump, both feet in view.",
    )


def _contacts(
    lifts: Sequence[Lift], by_flight: dict[tuple[int, EventKind], list[TimedEvent]],
    time_s: Floats,
) -> list[Contact]:  # fmt: skip
    """Contacts of each foot between its lifts, with every instant that was timed."""
    timed: dict[tuple[Foot, EventKind], list[Instant]] = defaultdict(list)
    for events in by_flight.values():
        for one in events:
            if isinstance(one.event, FootEvent):
                timed[one.plan.foot, one.plan.kind].append(one.event.instant)
    contacts: list[Contact] = []
    for foot in ("left", "right"):
        mine = [lift for lift in lifts if lift.foot == foot]
        ends = [_near(timed[foot, "take_off"], time_s[lift.first_row]) for lift in mine]
        starts = [_near(timed[foot, "landing"], time_s[lift.last_row]) for lift in mine]
        if not mine or mine[0].starts_in_clip:
            contacts.append(Contact(foot, None, ends[0] if ends else None))
        for i, lift in enumerate(mine):
            if lift.ends_in_clip:
                following = ends[i + 1] if i + 1 < len(mine) else None
                contacts.append(Contact(foot, starts[i], following))
    return sorted(contacts, key=_order)


def _near(instants: Sequence[Instant], at_s: float) -> Instant | None:
    near = [instant for instant in instants if abs(instant.time_s - at_s) < SAME_CHANGE_S]
    return min(near, key=lambda instant: abs(instant.time_s - at_s)) if near else None


def _order(contact: Contact) -> float:
    if contact.start is not None:
        return contact.start.time_s
    return contact.end.time_s - 1e3 if contact.end is not None else -1e6
