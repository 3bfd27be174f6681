"""From drawn pictures of one foot to the ways of its ends, and to the instant itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.judge import FootEvent, time_foot
from measure.contacts.patch import SUN_SHADOW
from measure.contacts.plan import EventKind
from measure.contacts.trace import trace_event
from tests.measure.contacts.drawn_shoe import (
    GROUND,
    INSTANT_S,
    PX_PER_M,
    RATE_HZ,
    SHAPE,
    TOE_TIP,
    event_pictures,
    plan_of,
    rise_m,
)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_every_patch_goes_the_true_way(kind: EventKind) -> None:
    traces = trace_event(event_pictures(kind, pose_error_px=3.0))
    assert len(traces) >= 2
    for trace in traces:
        true_px = rise_m(trace.path.time_s, INSTANT_S, kind=kind) * PX_PER_M
        assert (trace.end, trace.direction) == ("toe", 1)
        assert -trace.path.shift_px[:, 1] == pytest.approx(true_px, abs=0.35)
        assert trace.path.shift_px[:, 0] == pytest.approx(0.1 * true_px, abs=0.35)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_pictures_give_the_instant(kind: EventKind) -> None:
    """The whole close look, from pixels to one foot's time."""
    traces = trace_event(event_pictures(kind, pose_error_px=2.0), ends=("toe", "heel"))
    event = time_foot(
        plan_of(kind, coarse_s=INSTANT_S), traces, px_per_m=PX_PER_M, interval_s=1 / RATE_HZ
    )
    assert isinstance(event, FootEvent), event
    assert event.instant.time_s == pytest.approx(INSTANT_S, abs=0.0015)
    assert abs(event.instant.time_s - INSTANT_S) < 3 * event.instant.sigma_s


def test_a_trace_knows_how_clearly_the_shoe_stands_out() -> None:
    event = event_pictures("take_off")
    shoe = np.abs(event.pictures[event.reference_row] - GROUND).max(axis=-1)
    (clear, *_), (faint, *_) = (
        trace_event(replace(event, pictures=GROUND + share * (event.pictures - GROUND)))
        for share in (1.0, 0.5)
    )
    assert clear.contrast_grey == pytest.approx(shoe[95:109, 90:118].mean(), rel=0.1)
    assert faint.contrast_grey == pytest.approx(clear.contrast_grey / 2, rel=0.1)


def test_the_heel_is_followed_where_it_is_asked_for() -> None:
    traces = trace_event(event_pictures("landing"), ends=("toe", "heel"))
    assert {trace.end for trace in traces} == {"toe", "heel"}
    assert {trace.direction for trace in traces if trace.end == "heel"} == {-1}


def test_a_foot_seen_from_the_front_has_no_heel() -> None:
    event = event_pictures("landing")
    front = replace(event, heel_px=event.toe_px + np.array([2.0, -15.0]))
    assert {trace.end for trace in trace_event(front, ends=("toe", "heel"))} == {"toe"}


def test_no_shoe_no_trace() -> None:
    event = event_pictures("landing")
    bare = np.repeat(GROUND[None], event.time_s.size, axis=0)
    assert trace_event(replace(event, pictures=bare)) == []


def test_a_shadow_on_the_ground_is_not_followed() -> None:
    """A shadow stays below the foot and moves another way; the shoe's own way must come back."""
    event = event_pictures("take_off")
    pictures = event.pictures.copy()
    for picture, shift in zip(pictures, event.toe_px - event.toe_px[0], strict=True):
        left = int(60 - shift[1] * 0.5)
        pictures_row = slice(int(TOE_TIP[1]) + 1, int(TOE_TIP[1]) + 14)
        picture[pictures_row, left : left + 75] *= 0.68
    for trace in trace_event(replace(event, pictures=pictures)):
        true_px = rise_m(trace.path.time_s, INSTANT_S, kind="take_off") * PX_PER_M
        assert -trace.path.shift_px[:, 1] == pytest.approx(true_px, abs=0.6)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_of_a_low_sun_s_shadow_larger_than_the_foot_nothing_is_followed(kind: EventKind) -> None:
    """It runs away along the ground as the foot rises; little of what is dark there is shoe."""
    event = event_pictures(kind)
    pictures = event.pictures.copy()
    rises_px = event.toe_px[event.reference_row, 1] - event.toe_px[:, 1]
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    standing = np.abs(pictures[event.reference_row] - GROUND).max(axis=-1) > 30
    for picture, rise_px in zip(pictures, rises_px, strict=True):
        shaded = (rows > 70) & (rows < 140) & (np.abs(columns - rise_px - 128) < 58)
        picture[shaded & (np.abs(picture - GROUND).max(axis=-1) < 25)] *= 0.4
    shaded_event = replace(event, pictures=pictures)
    traces = trace_event(shaded_event, shadow=SUN_SHADOW)
    assert len(traces) == 3
    for trace in traces:
        assert standing[trace.patch.mask].mean() > 0.9
    timed = time_foot(
        plan_of(kind, coarse_s=0.0), traces, px_per_m=PX_PER_M, interval_s=1 / RATE_HZ
    )
    assert isinstance(timed, FootEvent)
    assert timed.instant.time_s == pytest.approx(INSTANT_S, abs=0.0025)
