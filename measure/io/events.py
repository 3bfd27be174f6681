"""Look closely at many foot events, in several processes where it pays."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from multiprocessing.context import BaseContext
from pathlib import Path
from typing import Protocol

from measure.contacts.plan import EventKind, EventPlan
from measure.contacts.segment import TimedEvent, time_event
from measure.contacts.trace import HEEL_SIZES_M, TOE_SIZES_M, EventPictures


class Cut(Protocol):
    """Pictures of an event that still have to be made ready."""

    def ready(self) -> EventPictures:
        """Give them as they are compared."""


FEWEST_EVENTS_TO_SHARE = 3
"""With fewer, starting a second process costs more than it saves."""
PATCHES: dict[EventKind, int] = {
    "take_off": len(TOE_SIZES_M), "landing": len(TOE_SIZES_M) + len(HEEL_SIZES_M)
}  # fmt: skip
"""Patches that are followed, for how long an event takes."""
MOST_WAITING = 3
"""Events that wait while this process reads on: with one at work, those of a single jump, which can
then be shared out evenly. More would only fill the memory."""


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
        shared = _Shared(pool, processes - 1, plans, interval_s)
        for number, each in pictures:
            yield from shared.take(number, each)
        yield from shared.finish()


class _Shared:
    """Events that this process and its helpers time side by side."""

    def __init__(
        self, pool: ProcessPoolExecutor, helpers: int, plans: Sequence[EventPlan],
        interval_s: float,
    ) -> None:  # fmt: skip
        self._pool, self._helpers = pool, helpers
        self._plans, self._interval_s = plans, interval_s
        self._given: dict[Future[TimedEvent], int] = {}
        self._waiting: list[tuple[int, Cut]] = []

    def take(self, number: int, cut: Cut) -> Iterator[tuple[int, TimedEvent]]:
        """Take one more event, and give those that are timed."""
        self._waiting.append((number, cut))
        self._give(each=1)
        if len(self._waiting) > MOST_WAITING:
            self._give(each=2)  # one for the time in which this process is busy itself
        while len(self._waiting) > MOST_WAITING:
            yield self._time_here(*self._waiting.pop(0))
        yield from self._done()

    def finish(self) -> Iterator[tuple[int, TimedEvent]]:
        """Time what is left, and give all that is timed."""
        yield from self._done()
        here = self._share_out()
        for number, cut in here:
            yield self._time_here(number, cut)
        for done in as_completed(self._given):
            yield self._given[done], done.result()

    def _share_out(self) -> list[tuple[int, Cut]]:
        """Give away what others will have done sooner.

        The most work first, so that nobody has much to do when all others are ready.
        """
        theirs = sum(self._effort(number) for number in self._given.values())
        mine = 0
        here: list[tuple[int, Cut]] = []
        for number, cut in sorted(self._waiting, key=lambda one: -self._effort(one[0])):
            effort = self._effort(number)
            if (theirs + effort) / self._helpers <= mine + effort:
                theirs += effort
                self._submit(number, cut)
            else:
                mine += effort
                here.append((number, cut))
        self._waiting = []
        return here

    def _effort(self, number: int) -> int:
        """How many pictures of how many patches are compared."""
        plan = self._plans[number]
        return len(plan.frames) * PATCHES[plan.kind]

    def _give(self, *, each: int) -> None:
        """Give helpers what waits longest, until all of them have so many."""
        while self._waiting and len(self._given) < each * self._helpers:
            self._submit(*self._waiting.pop(0))

    def _submit(self, number: int, cut: Cut) -> None:
        done = self._pool.submit(_time, self._plans[number], cut, self._interval_s)
        self._given[done] = number

    def _time_here(self, number: int, cut: Cut) -> tuple[int, TimedEvent]:
        return number, _time(self._plans[number], cut, self._interval_s)

    def _done(self) -> Iterator[tuple[int, TimedEvent]]:
        for done in [future for future in self._given if future.done()]:
            yield self._given.pop(done), done.result()


def _way_to_start() -> BaseContext:
    """A copy of this process starts at once, but is sound only where it has a single thread."""
    tasks = Path("/proc/self/task")
    alone = tasks.is_dir() and len(list(tasks.iterdir())) == 1
    return multiprocessing.get_context("fork" if alone else "spawn")
