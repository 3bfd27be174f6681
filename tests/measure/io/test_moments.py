"""Poses between rows, states of the feet, events."""

import numpy as np
import pytest

from measure.io.moments import (
    LONGEST_GAP_S,
    Span,
    list_events,
    list_spans,
    nearest_frame,
    no_track,
    pose_at,
    read_hip_curve,
    state_at,
)
from measure.report import JumpReport, LandingReport
from measure.types import Contact, Instant, Landmark, PoseTrack

TIME_S = np.array([0.0, 0.1, 0.15, 0.5])


def track_of(px, time_s):
    rows, marks = px.shape[:2]
    return PoseTrack(
        np.arange(rows), np.asarray(time_s), px,
        np.linspace(0.4, 1, rows)[:, None] * np.ones(marks), np.zeros((rows, marks, 3)), 100, 100,
    )  # fmt: skip


def moving(time_s, *, x_px_per_s=100.0):
    px = np.zeros((len(time_s), len(Landmark), 2))
    px[:, :, 0] = x_px_per_s * np.asarray(time_s)[:, None]
    return track_of(px, time_s)


def jump(take_off_s, landing_s, **rest):
    return JumpReport(
        take_off_s, 0.002, landing_s, 0.001, landing_s - take_off_s, 0.002, 0.3, 0.003, **rest
    )


def instant(time_s):
    return None if time_s is None else Instant(time_s, 0.002)


def contacts(foot, *ends):
    return [Contact(foot, instant(start_s), instant(end_s)) for start_s, end_s in ends]


@pytest.mark.parametrize("at_s", [0.0, 0.03, 0.1, 0.149])
def test_a_point_at_constant_speed_is_met_between_rows(at_s):
    px, visibility = pose_at(moving(TIME_S), TIME_S, at_s=at_s)
    np.testing.assert_allclose(px[:, 0], 100 * at_s)
    assert (visibility >= 0.4).all()


@pytest.mark.parametrize("at_s", [-0.05, 0.3, 0.51])
def test_before_after_and_inside_a_long_gap_nobody_is_seen(at_s):
    assert TIME_S[3] - TIME_S[2] > LONGEST_GAP_S
    px, visibility = pose_at(moving(TIME_S), TIME_S, at_s=at_s)
    assert np.isnan(px).all()
    assert (visibility == 0).all()


def test_a_point_unseen_in_one_row_is_unseen_up_to_the_next_but_not_in_it():
    track = moving(TIME_S)
    track.px[1, Landmark.NOSE] = np.nan
    assert np.isnan(pose_at(track, TIME_S, at_s=0.05)[0][Landmark.NOSE]).all()
    assert np.isfinite(pose_at(track, TIME_S, at_s=0.15)[0]).all()
    assert np.isfinite(pose_at(track, TIME_S, at_s=0.05)[0][Landmark.LEFT_HIP]).all()


def test_one_jump_is_ground_air_ground():
    spans = list_spans(contacts("left", (None, 1.0), (1.5, None)), foot="left")
    assert spans == (Span("ground", -np.inf, 1.0), Span("air", 1.0, 1.5),
                     Span("ground", 1.5, np.inf))  # fmt: skip
    assert [state_at(spans, at_s=t) for t in (0, 0.99, 1.0, 1.2, 1.5, 9)] == [
        "ground", "ground", "air", "air", "ground", "ground",
    ]  # fmt: skip


def test_a_clip_may_begin_and_end_in_the_air():
    spans = list_spans(contacts("left", (0.3, 0.6)), foot="left")
    assert [state_at(spans, at_s=t) for t in (0, 0.4, 2)] == ["air", "ground", "air"]


def test_a_foot_that_never_touches_is_in_the_air_and_one_that_never_leaves_on_the_ground():
    both = contacts("left", (None, None))
    assert state_at(list_spans(both, foot="left"), at_s=1) == "ground"
    assert state_at(list_spans(both, foot="right"), at_s=1) == "air"


def test_around_an_instant_that_was_not_measured_nothing_is_claimed():
    spans = list_spans(contacts("left", (None, 1.0), (None, 2.0), (2.5, None)), foot="left")
    known = {t: state_at(spans, at_s=t) for t in (0.5, 1.5, 1.95, 2.2, 3)}
    assert known == {0.5: "ground", 1.5: None, 1.95: "ground", 2.2: "air", 3: "ground"}


def test_without_contacts_nothing_is_claimed():
    assert list_spans([], foot="left") == ()


def test_the_hip_curve_is_the_rise_over_the_start_in_centimetres():
    time_s = np.arange(120) / 60
    px = np.zeros((120, len(Landmark), 2))
    px[:, :, 1] = 50 - 40 * np.clip(time_s - 0.5, 0, 0.5)[:, None]
    curve = read_hip_curve(track_of(px, time_s), time_s, m_per_px=0.005)
    assert curve.unit == "cm"
    assert (curve.height[0], curve.height[-1]) == pytest.approx((0, 10))
    assert read_hip_curve(track_of(px, time_s), time_s, m_per_px=None).height[-1] == 20


def test_nobody_has_no_curve():
    assert read_hip_curve(no_track(10, 10), np.empty(0), m_per_px=None).height.size == 0


def sinking(time_s, *, deepest_s):
    px = np.zeros((len(time_s), len(Landmark), 2))
    px[:, :, 1] = (100 - 200 * (time_s - deepest_s) ** 2)[:, None]
    return track_of(px, time_s)


def test_the_deepest_point_is_where_the_hips_are_lowest_after_the_landing():
    time_s = np.arange(180) / 60
    track = sinking(time_s, deepest_s=1.7)
    events = list_events([jump(1.0, 1.5)], track=track, row_time_s=time_s)
    assert [(event.jump, event.kind) for event in events] == [
        (1, "take_off"), (1, "landing"), (1, "deepest"),
    ]  # fmt: skip
    assert events[2].time_s == pytest.approx(1.7, abs=1 / 120)


def test_the_reports_own_deepest_moment_comes_first():
    time_s = np.arange(180) / 60
    told = jump(1.0, 1.5, landing=LandingReport(deepest_s=1.623))
    events = list_events([told], track=sinking(time_s, deepest_s=1.7), row_time_s=time_s)
    assert events[2].time_s == 1.623


def test_hips_that_still_sink_have_no_deepest_point():
    time_s = np.arange(95) / 60
    events = list_events([jump(1.0, 1.5)], track=sinking(time_s, deepest_s=1.7), row_time_s=time_s)
    assert [event.kind for event in events] == ["take_off", "landing"]


def test_between_hops_the_deepest_point_comes_before_the_next_take_off():
    time_s = np.arange(180) / 60
    events = list_events(
        [jump(0.5, 1.0), jump(1.3, 1.8)], track=sinking(time_s, deepest_s=1.15), row_time_s=time_s
    )
    deepest = [event.time_s for event in events if event.kind == "deepest"]
    assert deepest[0] == pytest.approx(1.15, abs=1 / 120)


def test_the_nearest_frame_is_found_on_uneven_times():
    times_s = np.array([0.0, 0.01, 0.05, 0.06])
    assert [nearest_frame(times_s, at_s=t) for t in (-1, 0.004, 0.029, 0.031, 0.056, 9)] == [
        0, 0, 1, 2, 3, 3,
    ]  # fmt: skip
