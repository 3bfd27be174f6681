"""Look closely at many foot events, in several processes where it pays."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor

from measure.contacts.plan import EventPlan
from measure.contacts.segment import TimedEvent, time_event
from measure.contacts.trace import EventPictures

FEWEST_PICTURES_TO_SHARE = 150
"""With fewer pictures in all, starting a second process costs more than it saves."""


def time_events(
    plans: Sequence[EventPlan], pictures: Sequence[EventPictures], *, interval_s: float,
    processes: int = 1, progress: Callable[[float], None] | None = None,
) -> list[TimedEvent]:  # fmt: skip
    """Time every planned event; the same answers however many processes work.

    Parameters
    ----------
    plans : sequence of EventPlan
    pictures : sequence of EventPictures
        One per plan.
    interval_s : float
        Real time between distinct pictures.
    processes : int
        More than one only from a program whose main module may be imported again.
    progress : callable, optional
        Told the part done, 0 to 1.

    Returns
    -------
    list of TimedEvent
        In the order of the plans.
    """
    told = progress or (lambda part: None)
    events = []
    for event in _timed(plans, pictures, interval_s, processes):
        events.append(event)
        told(len(events) / len(plans))
    return events


def _timed(
    plans: Sequence[EventPlan], pictures: Sequence[EventPictures], interval_s: float,
    processes: int,
) -> Iterator[TimedEvent]:  # fmt: skip
    intervals = [interval_s] * len(plans)
    few = sum(one.time_s.shape[0] for one in pictures) < FEWEST_PICTURES_TO_SHARE
    if processes < 2 or few:
        yield from map(time_event, plans, pictures, intervals)
        return
    # A fresh interpreter: a fork would copy the pose model's threads in whatever state they are.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(min(processes, len(plans)), mp_context=context) as pool:
        yield from pool.map(time_event, plans, pictures, intervals)
