"""Landings off a box are looked for later and faster; everything else is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.coarse import CoarseFlight, Lift
from measure.contacts.drops import DropSettings, aim_at_drops
from measure.contacts.plan import EventPlan
from tests.known_motions import even_stamps
from tests.measure.contacts.drawn_shoe import plan_of

FRAME_TIME_S = even_stamps(60.0, duration_s=3.0)
ON_S = 1.0


def _flight(*, apex_share: float) -> CoarseFlight:
    lifts = tuple(Lift(foot, 48, 60, True, True) for foot in ("left", "right"))
    start_s, end_s = 0.8, ON_S
    apex_s = start_s + apex_share * (end_s - start_s)
    return CoarseFlight(48, 60, start_s, end_s, 2450.0, 50.0, 1.0, apex_s, lifts)


def _landing(kind: str = "landing", flight: int | None = 0) -> EventPlan:
    frames = np.flatnonzero(np.abs(FRAME_TIME_S - ON_S) < 0.11)
    plan = plan_of(kind, coarse_s=ON_S, flight=flight, speed_mps=1.0)
    return replace(plan, frames=frames, reference=int(frames[-4]))


def test_a_drop_lands_later_and_at_twice_the_speed() -> None:
    (found,) = aim_at_drops([_landing()], [_flight(apex_share=0.0)], frame_time_s=FRAME_TIME_S)
    assert found.coarse_s == ON_S + DropSettings().later_s
    assert found.speed_mps == 2.0
    stands_s = FRAME_TIME_S[found.reference]
    assert stands_s == pytest.approx(found.coarse_s + 0.05, abs=0.5 / 60 + 1e-9)
    assert found.reference in found.frames


@pytest.mark.parametrize(
    ("kind", "flight", "apex_share"),
    [("landing", 0, 0.5), ("take_off", 0, 0.0), ("landing", None, 0.0)],
)
def test_other_events_stay_as_they_are(kind: str, flight: int | None, apex_share: float) -> None:
    plan = _landing(kind, flight)
    (found,) = aim_at_drops([plan], [_flight(apex_share=apex_share)], frame_time_s=FRAME_TIME_S)
    assert found is plan
