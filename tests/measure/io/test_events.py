"""Many events, one process or two: the same answers in the order of the plans."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from calibration.values import Refused
from measure.contacts.judge import FootEvent
from measure.contacts.plan import EventKind
from measure.contacts.segment import TimedEvent
from measure.contacts.trace import EventPictures
from measure.io.events import FEWEST_EVENTS_TO_SHARE, time_events
from tests.measure.contacts.drawn_shoe import INSTANT_S, RATE_HZ, event_pictures, plan_of

KINDS: list[EventKind] = ["take_off", "landing"]
EVENTS = {kind: event_pictures(kind) for kind in KINDS}


@dataclass(frozen=True)
class ReadyCut:
    """Pictures that need nothing more."""

    event: EventPictures

    def ready(self) -> EventPictures:
        return self.event


def _timed(
    kinds: list[EventKind], *, processes: int = 1, forget: Callable[[], None] | None = None
) -> tuple[list[TimedEvent], list[float]]:
    """Time events whose pictures come in the opposite order of the plans."""
    frames = np.arange(EVENTS["landing"].time_s.size)
    plans = [replace(plan_of(kind, coarse_s=INSTANT_S), frames=frames) for kind in kinds]
    pictures = [(number, ReadyCut(EVENTS[kind])) for number, kind in enumerate(kinds)]
    told: list[float] = []
    events = time_events(
        plans, iter(pictures[::-1]), interval_s=1 / RATE_HZ, processes=processes,
        progress=told.append, forget=forget,
    )  # fmt: skip
    return events, told


def test_events_come_back_in_the_order_of_their_plans() -> None:
    events, told = _timed(["take_off", "landing"])
    assert [one.plan.kind for one in events] == ["take_off", "landing"]
    assert told == [0.5, 1.0]
    for one in events:
        assert isinstance(one.event, FootEvent)
        assert one.event.instant.time_s == pytest.approx(INSTANT_S, abs=0.002)


def test_nothing_planned_nothing_timed() -> None:
    assert time_events([], [], interval_s=1 / 60) == []


@pytest.mark.slow
def test_two_processes_give_the_same_answers() -> None:
    kinds = KINDS * 3
    assert len(kinds) >= FEWEST_EVENTS_TO_SHARE
    alone, _ = _timed(kinds)
    shared, told = _timed(kinds, processes=2)
    assert not any(isinstance(one.event, Refused) for one in alone)
    assert [one.event for one in shared] == [one.event for one in alone]
    assert [one.plan.kind for one in shared] == kinds
    assert told[-1] == 1.0


@dataclass(frozen=True)
class SignedCut:
    """Pictures that leave word of the process that made them ready."""

    event: EventPictures
    kind: EventKind
    folder: Path

    def ready(self) -> EventPictures:
        with (self.folder / f"{self.kind}_{os.getpid()}").open("a") as file:
            file.write("here\n")
        return self.event


@pytest.mark.slow
def test_the_events_of_one_jump_are_shared_out_evenly(tmp_path: Path) -> None:
    kinds: list[EventKind] = ["take_off", "take_off", "landing", "landing"]
    frames = np.arange(EVENTS["landing"].time_s.size)
    plans = [replace(plan_of(kind, coarse_s=INSTANT_S), frames=frames) for kind in kinds]
    pictures = [(k, SignedCut(EVENTS[kind], kind, tmp_path)) for k, kind in enumerate(kinds)]
    timed = time_events(plans, iter(pictures), interval_s=1 / RATE_HZ, processes=2)
    assert [one.plan.kind for one in timed] == kinds
    landings = sorted(tmp_path.glob("landing_*"))  # those have most patches to follow
    assert [path.read_text() for path in landings] == ["here\n", "here\n"]


@pytest.mark.slow
@pytest.mark.parametrize("way", ["fork", "spawn"])
def test_a_copy_of_this_process_forgets_what_it_has_no_use_for(
    way: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    context = multiprocessing.get_context(way)
    monkeypatch.setattr("measure.io.events._way_to_start", lambda: context)
    forgotten = tmp_path / "forgotten"

    def forget() -> None:
        forgotten.write_text(str(os.getpid()))

    timed, _ = _timed(KINDS * 2, processes=2, forget=forget)
    assert len(timed) == 4
    assert forgotten.exists() == (way == "fork")
    if way == "fork":
        assert int(forgotten.read_text()) != os.getpid()
