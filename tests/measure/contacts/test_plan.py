"""Which foot events are looked at, when, and in which pixels."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from measure.contacts.coarse import CoarseFlight, Lift, find_flights, find_lifts
from measure.contacts.floor import FootHeights, measure_foot_heights
from measure.contacts.foot_paths import FootPaths, interpolate_feet
from measure.contacts.plan import EventPlan, plan_events
from measure.types import FOOT_LANDMARKS, Floats, Landmark, PoseTrack
from tests.known_motions import IdealJump, even_stamps
from tests.measure.contacts.stick_walks import bump, foot_moved, standing

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)
STATURE_M = 1.72


@dataclass(frozen=True)
class _Look:
    flights: list[CoarseFlight]
    lifts: list[Lift]
    heights: FootHeights
    paths: FootPaths
    time_s: Floats

    def plans(
        self, *, distinct: np.ndarray | None = None, picture_px: tuple[int, int] = (1280, 720)
    ) -> list[EventPlan]:
        if distinct is None:
            distinct = np.ones(self.time_s.shape, dtype=bool)
        return plan_events(
            self.flights, self.lifts, self.heights, self.paths, time_s=self.time_s,
            distinct=distinct, picture_px=picture_px,
        )  # fmt: skip


def _look(track: PoseTrack, time_s: Floats) -> _Look:
    heights = measure_foot_heights(track)
    lifts = find_lifts(heights)
    flights = find_flights(lifts, track, time_s, stride=heights.stride)
    paths = interpolate_feet(
        track, time_s, time_s, stature_px=heights.stature_px, standing_m=STATURE_M
    )
    return _Look(flights, lifts, heights, paths, time_s)


def _jump_at(rate_hz: float) -> _Look:
    time_s = even_stamps(rate_hz, duration_s=4.0)
    return _look(JUMP.track(time_s), time_s)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 240.0])
def test_a_jump_has_four_events_and_none_besides(rate_hz: float) -> None:
    plans = _jump_at(rate_hz).plans()
    assert [(plan.kind, plan.foot, plan.flight) for plan in plans] == [
        ("take_off", "left", 0), ("take_off", "right", 0),
        ("landing", "left", 0), ("landing", "right", 0),
    ]  # fmt: skip


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 240.0])
def test_pictures_lie_about_the_event_and_the_foot_stands_in_one(rate_hz: float) -> None:
    look = _jump_at(rate_hz)
    for plan in look.plans():
        true_s = JUMP.take_off_s if plan.kind == "take_off" else JUMP.landing_s
        times = look.time_s[plan.frames]
        assert times[0] < true_s - 0.05
        assert times[-1] > true_s + 0.05
        assert np.ptp(times) < 0.26 + 2 / rate_hz
        if plan.kind == "take_off":  # the ball of a foot that bends leaves long before the toes
            assert times[-1] > plan.coarse_s + 0.145 - 1 / rate_hz
        stands_s = look.time_s[plan.reference]
        assert plan.reference in plan.frames
        assert stands_s < true_s if plan.kind == "take_off" else stands_s > true_s
        assert plan.speed_mps == pytest.approx(JUMP.speed_mps, rel=0.15)
        assert abs(plan.coarse_s - true_s) < 0.05


@pytest.mark.parametrize("phase", [0.0, 0.25, 0.5, 0.75])
def test_a_foot_stands_in_its_picture_wherever_landings_fall_between_two(phase: float) -> None:
    jump = replace(JUMP, take_off_s=JUMP.take_off_s + phase / 30)
    time_s = even_stamps(30.0, duration_s=4.0)
    for plan in _look(jump.track(time_s), time_s).plans():
        if plan.kind == "landing":
            assert time_s[plan.reference] > jump.landing_s + 0.015


def test_feet_that_poses_see_apart_are_looked_for_each_at_its_own_time() -> None:
    look = _jump_at(60.0)
    left, right = look.flights[0].lifts
    late = replace(right, first_row=right.first_row + 3, last_row=right.last_row - 3)
    short = replace(
        look.flights[0], first_row=late.first_row, last_row=late.last_row, lifts=(left, late)
    )
    for plan in replace(look, flights=[short], lifts=[left, late]).plans():
        lift = left if plan.foot == "left" else late
        row = lift.first_row if plan.kind == "take_off" else lift.last_row
        assert plan.coarse_s == look.time_s[row]


def test_the_ground_is_looked_for_while_the_athlete_is_in_the_air() -> None:
    look = _jump_at(60.0)
    for plan in look.plans():
        times = look.time_s[plan.empty_frames]
        assert ((times > JUMP.take_off_s + 0.1) & (times < JUMP.landing_s - 0.1)).sum() >= 5
        assert plan.empty_frames.size <= 90


def test_the_pixels_hold_the_whole_foot_with_room_above() -> None:
    look = _jump_at(60.0)
    for plan in look.plans():
        left, top, right, bottom = plan.box
        leg = FOOT_LANDMARKS[plan.foot]
        for point in (leg.heel, leg.toe):
            x, y = look.paths.px[plan.reference, point]
            assert left + 20 < x < right - 20
            assert top + 80 < y < bottom - 20


def test_pixels_stay_inside_the_picture() -> None:
    for plan in _jump_at(60.0).plans(picture_px=(690, 640)):
        left, top, right, bottom = plan.box
        assert (left >= 0, top >= 0, right <= 690, bottom <= 640) == (True,) * 4


def test_feet_outside_the_picture_are_not_planned() -> None:
    assert _jump_at(60.0).plans(picture_px=(1280, 600)) == []


def test_repeated_pictures_are_not_looked_at() -> None:
    look = _jump_at(120.0)
    distinct = np.arange(look.time_s.size) % 2 == 0
    for plan in look.plans(distinct=distinct):
        assert distinct[plan.frames].all()
        assert distinct[plan.reference]


@pytest.mark.parametrize(
    ("first_s", "last_s", "kind"), [(1.48, 4.0, "landing"), (0.0, 2.0, "take_off")]
)
def test_events_that_the_clip_cuts_off_are_not_planned(
    first_s: float, last_s: float, kind: str
) -> None:
    time_s = first_s + even_stamps(60.0, duration_s=last_s - first_s)
    look = _look(JUMP.track(time_s), time_s)
    assert len(look.flights) == 1
    assert {plan.kind for plan in look.plans()} == {kind}


def test_a_step_after_the_landing_is_planned_as_a_step() -> None:
    time_s = even_stamps(60.0, duration_s=5.0)
    step = 0.25 * bump(time_s, JUMP.landing_s + 1.0, JUMP.landing_s + 1.4)
    look = _look(foot_moved(JUMP.track(time_s), "right", up_m=step), time_s)
    steps = [plan for plan in look.plans() if plan.flight is None]
    assert [(plan.kind, plan.foot) for plan in steps] == [
        ("take_off", "right"), ("landing", "right"),
    ]  # fmt: skip
    assert all(0.4 <= plan.speed_mps <= 3.0 for plan in steps)


def test_steps_far_from_any_jump_are_left_alone() -> None:
    time_s = even_stamps(60.0, duration_s=8.0)
    late = JUMP.landing_s + 4.0
    track = foot_moved(JUMP.track(time_s), "left", up_m=0.25 * bump(time_s, late, late + 0.4))
    look = _look(track, time_s)
    assert len(look.lifts) == 3
    assert [plan for plan in look.plans() if plan.flight is None] == []


def test_a_foot_that_is_long_up_has_no_part_in_the_take_off() -> None:
    """One leg jumps while the other is held up: it takes part in neither end."""
    time_s = even_stamps(60.0, duration_s=4.0)
    held = np.where((time_s > 0.6) & (time_s < 3.2), 0.25, 0.0)
    held += 0.25 * bump(time_s, 0.2, 1.0) * (time_s <= 0.6)
    held += 0.25 * bump(time_s, 2.8, 3.6) * (time_s >= 3.2)
    look = _look(foot_moved(JUMP.track(time_s), "left", up_m=held), time_s)
    flight_plans = [plan for plan in look.plans() if plan.flight == 0]
    assert {(plan.kind, plan.foot) for plan in flight_plans} == {
        ("take_off", "right"), ("landing", "right"),
    }  # fmt: skip


def test_nothing_is_planned_without_a_flight() -> None:
    time_s = even_stamps(60.0, duration_s=4.0)
    track = foot_moved(standing(time_s), "left", up_m=0.25 * bump(time_s, 1.0, 1.5))
    assert _look(track, time_s).plans() == []


def test_feet_are_put_on_every_frame_by_straight_lines() -> None:
    time_s = even_stamps(60.0, duration_s=2.0)
    track = JUMP.track(time_s)
    frame_time_s = even_stamps(240.0, duration_s=2.0)
    paths = interpolate_feet(track, time_s, frame_time_s, stature_px=430.0, standing_m=1.72)
    assert paths.px.shape == (frame_time_s.size, len(Landmark), 2)
    assert paths.px[::4] == pytest.approx(track.px, abs=1e-6)
    assert paths.px[2::4] == pytest.approx((track.px[1:] + track.px[:-1]) / 2, abs=1e-6)
    assert paths.px_per_m == pytest.approx(250.0)


def test_points_not_seen_are_bridged_and_never_seen_stay_unknown() -> None:
    time_s = even_stamps(60.0, duration_s=1.0)
    track = standing(time_s)
    px = track.px.copy()
    px[10:20, Landmark.LEFT_TOE] = np.nan
    px[:, Landmark.NOSE] = np.nan
    gappy = PoseTrack(
        track.frame_index, time_s, px, track.visibility, track.world_m, 1280, 720
    )
    paths = interpolate_feet(gappy, time_s, time_s, stature_px=430.0, standing_m=1.72)
    assert paths.px[:, Landmark.LEFT_TOE] == pytest.approx(track.px[:, Landmark.LEFT_TOE])
    assert np.isnan(paths.px[:, Landmark.NOSE]).all()
