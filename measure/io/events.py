"""Look closely at many foot events, in several processes where it pays."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Protocol

from measure.contacts.plan import EventPlan
from measure.contacts.segment import TimedEvent, time_event
from measure.contacts.trace import EventPictures


class Cut(Protocol):
    """Pictures of an event that still have to be made ready."""

    def ready(self) -> EventPictures:
        """Give them as they are compared."""


FEWEST_EVENTS_TO_SHARE = 3
"""With fewer, starting a second process costs more than it saves."""
MOST_WAITING = 2
"""Events that wait while this process reads on; more would only fill the memory."""


def time_events(
    plans: Sequence[EventPlan], pictures: Iterable[tuple[int, Cut]], *,
    interval_s: float, processes: int = 1, progress: Callable[[float], None] | None = None,
    forget: Callable[[], None] | None = None,
) -> list[TimedEvent]:  # fmt: skip
    """Time every planned event; the same answers however many processes work.

    Parameters
    ----------
    plans : sequence of EventPlan
    pictures : iterable of tuple of int and Cut
        Number of each plan with its pictures, in any order; taken one at a time.
    interval_s : float
        Real time between distinct pictures.
    processes : int
        More than one only from a program whose main module may be imported again.
    progress : callable, optional
        Told the part done, 0 to 1.
    forget : callable, optional
        Called in every process that begins as a copy of this one, to free what it has no use for.

    Returns
    -------
    list of TimedEvent
        In the order of the plans.
    """
    told = progress or (lambda part: None)
    events: dict[int, TimedEvent] = {}
    for number, event in _timed(plans, pictures, interval_s, processes, forget):
        events[number] = event
        told(len(events) / len(plans))
    return [events[number] for number in range(len(plans))]


def _time(plan: EventPlan, cut: Cut, interval_s: float) -> TimedEvent:
    return time_event(plan, cut.ready(), interval_s)


def _timed(
    plans: Sequence[EventPlan], pictures: Iterable[tuple[int, Cut]], interval_s: float,
    processes: int, forget: Callable[[], None] | None,
) -> Iterator[tuple[int, TimedEvent]]:  # fmt: skip
    if processes < 2 or len(plans) < FEWEST_EVENTS_TO_SHARE:
        for number, each in pictures:
            yield number, _time(plans[number], each, interval_s)
        return
    way = _way_to_start()
    at_start = forget if way.get_start_method() == "fork" else None
    with ProcessPoolExecutor(processes - 1, mp_context=way, initializer=at_start) as pool:
        pool.submit(int)  # so that they start now, before this process decodes in threads
        given: dict[Future[TimedEvent], int] = {}
        waiting: list[tuple[int, Cut]] = []

        def share(keep: int) -> Iterator[tuple[int, TimedEvent]]:
            """Keep others busy and do what is left over, until so few wait."""
            while waiting:
                for done in [future for future in given if future.done()]:
                    yield given.pop(done), done.result()
                room = (processes - 1) * (2 if len(waiting) > 1 else 1) - len(given)
                if room <= 0 and len(waiting) <= keep:
                    return
                number, cut = waiting.pop(0)
                if room > 0:
                    given[pool.submit(_time, plans[number], cut, interval_s)] = number
                else:  # this process works too
                    yield number, _time(plans[number], cut, interval_s)

        for pair in pictures:
            waiting.append(pair)
            yield from share(keep=MOST_WAITING)
        yield from share(keep=0)
        for done in as_completed(given):
            yield given[done], done.result()


def _way_to_start() -> BaseContext:
    """A copy of this process starts at once, but is sound only where it has a single thread."""
    tasks = Path("/proc/self/task")
    alone = tasks.is_dir() and len(list(tasks.iterdir())) == 1
    return multiprocessing.get_context("fork" if alone else "spawn")
