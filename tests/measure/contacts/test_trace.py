"""From drawn pictures of one foot to the ways of its ends, and to the instant itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.background import Background
from measure.contacts.judge import FootEvent, time_foot
from measure.contacts.plan import EventKind
from measure.contacts.trace import EventPictures, trace_event
from tests.measure.contacts.drawn_shoe import (
    GROUND,
    PX_PER_M,
    SHAPE,
    SHOE_LONG_PX,
    TOE_TIP,
    plan_of,
    rise_m,
    shoe_at,
)

RATE_HZ = 120.0
INSTANT_S = 0.003


def _event_pictures(kind: EventKind, *, pose_error_px: float = 0.0) -> EventPictures:
    time_s = np.arange(-13, 14) / RATE_HZ
    away = time_s if kind == "take_off" else -time_s
    up_px = rise_m(time_s, INSTANT_S, kind=kind) * PX_PER_M
    side_px = 0.1 * up_px
    rng = np.random.default_rng(2)
    pictures = np.stack([
        shoe_at((x, -y), noise=2.0, rng=rng) for x, y in zip(side_px, up_px, strict=True)
    ])  # fmt: skip
    moved = np.stack([side_px, -up_px], axis=1) + rng.normal(0, pose_error_px, (time_s.size, 2))
    return EventPictures(
        pictures=pictures, time_s=time_s,
        background=Background(GROUND, np.ones(SHAPE, dtype=bool)),
        reference_row=int(np.argmin(np.abs(away + 0.055))),
        toe_px=np.array([TOE_TIP[0] - 6, TOE_TIP[1] - 3]) + moved,
        heel_px=np.array([TOE_TIP[0] - SHOE_LONG_PX + 6, TOE_TIP[1] - 4]) + moved,
        px_per_m=PX_PER_M,
    )  # fmt: skip


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_every_patch_goes_the_true_way(kind: EventKind) -> None:
    traces = trace_event(_event_pictures(kind, pose_error_px=3.0))
    assert len(traces) >= 2
    for trace in traces:
        true_px = rise_m(trace.path.time_s, INSTANT_S, kind=kind) * PX_PER_M
        assert (trace.end, trace.direction) == ("toe", 1)
        assert -trace.path.shift_px[:, 1] == pytest.approx(true_px, abs=0.35)
        assert trace.path.shift_px[:, 0] == pytest.approx(0.1 * true_px, abs=0.35)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_pictures_give_the_instant(kind: EventKind) -> None:
    """The whole close look, from pixels to one foot's time."""
    traces = trace_event(_event_pictures(kind, pose_error_px=2.0), ends=("toe", "heel"))
    event = time_foot(
        plan_of(kind, coarse_s=INSTANT_S), traces, px_per_m=PX_PER_M, interval_s=1 / RATE_HZ
    )
    assert isinstance(event, FootEvent), event
    assert event.instant.time_s == pytest.approx(INSTANT_S, abs=0.0015)
    assert abs(event.instant.time_s - INSTANT_S) < 3 * event.instant.sigma_s


def test_the_heel_is_followed_where_it_is_asked_for() -> None:
    traces = trace_event(_event_pictures("landing"), ends=("toe", "heel"))
    assert {trace.end for trace in traces} == {"toe", "heel"}
    assert {trace.direction for trace in traces if trace.end == "heel"} == {-1}


def test_a_foot_seen_from_the_front_has_no_heel() -> None:
    event = _event_pictures("landing")
    front = replace(event, heel_px=event.toe_px + np.array([2.0, -15.0]))
    assert {trace.end for trace in trace_event(front, ends=("toe", "heel"))} == {"toe"}


def test_no_shoe_no_trace() -> None:
    event = _event_pictures("landing")
    bare = np.repeat(GROUND[None], event.time_s.size, axis=0)
    assert trace_event(replace(event, pictures=bare)) == []


def test_a_shadow_on_the_ground_is_not_followed() -> None:
    """A shadow stays below the foot and moves another way; the shoe's own way must come back."""
    event = _event_pictures("take_off")
    pictures = event.pictures.copy()
    for picture, shift in zip(pictures, event.toe_px - event.toe_px[0], strict=True):
        left = int(60 - shift[1] * 0.5)
        pictures_row = slice(int(TOE_TIP[1]) + 1, int(TOE_TIP[1]) + 14)
        picture[pictures_row, left : left + 75] *= 0.68
    for trace in trace_event(replace(event, pictures=pictures)):
        true_px = rise_m(trace.path.time_s, INSTANT_S, kind="take_off") * PX_PER_M
        assert -trace.path.shift_px[:, 1] == pytest.approx(true_px, abs=0.6)
