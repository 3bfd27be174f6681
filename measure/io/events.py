"""Look closely at many foot events, in several processes where it pays."""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor

from measure.contacts.plan import EventPlan
from measure.contacts.segment import TimedEvent, time_event
from measure.contacts.trace import EventPictures

FEWEST_PICTURES_TO_SHARE = 150
"""With fewer pictures in all, starting a second process costs more than it saves."""
WAITING_PER_PROCESS = 2
"""Events that wait for a process; more would only fill the memory."""


def time_events(
    plans: Sequence[EventPlan], pictures: Iterable[tuple[int, EventPictures]], *,
    interval_s: float, processes: int = 1, progress: Callable[[float], None] | None = None,
) -> list[TimedEvent]:  # fmt: skip
    """Time every planned event; the same answers however many processes work.

    Parameters
    ----------
    plans : sequence of EventPlan
    pictures : iterable of tuple of int and EventPictures
        Number of each plan with its pictures, in any order; taken one at a time.
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
    events: dict[int, TimedEvent] = {}
    for number, event in _timed(plans, pictures, interval_s, processes):
        events[number] = event
        told(len(events) / len(plans))
    return [events[number] for number in range(len(plans))]


def _timed(
    plans: Sequence[EventPlan], pictures: Iterable[tuple[int, EventPictures]], interval_s: float,
    processes: int,
) -> Iterator[tuple[int, TimedEvent]]:  # fmt: skip
    few = sum(plan.frames.size for plan in plans) < FEWEST_PICTURES_TO_SHARE
    if processes < 2 or few:
        for number, each in pictures:
            yield number, time_event(plans[number], each, interval_s)
        return
    # A fresh interpreter: a fork would copy the pose model's threads in whatever state they are.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(min(processes, len(plans)), mp_context=context) as pool:
        waiting: deque[tuple[int, Future[TimedEvent]]] = deque()
        for number, each in pictures:
            waiting.append((number, pool.submit(time_event, plans[number], each, interval_s)))
            if len(waiting) > WAITING_PER_PROCESS * processes:
                done, future = waiting.popleft()
                yield done, future.result()
        for number, future in waiting:
            yield number, future.result()
