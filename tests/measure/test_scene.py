"""A clip's clock, scale and rough flights, from poses of known jumps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.clock import ClockFacts
from measure.errors import NothingToMeasure
from measure.request import ClipRequest
from measure.scene import Scene, foot_paths, set_scene
from measure.types import FOOT_LANDMARKS, Floats, Landmark, PoseTrack
from tests.known_motions import IdealJump, even_stamps

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)
STATURE_M = 1.71
M_PER_PX = 0.004


def _scene(
    track: PoseTrack, stamps_file_s: Floats, *, motion_level: Floats | None = None,
    tag_hz: float | None = None, **asked: float,
) -> Scene:  # fmt: skip
    if motion_level is None:
        motion_level = np.full(stamps_file_s.size - 1, 10.0)
    return set_scene(
        track, facts=ClockFacts(stamps_file_s, tag_hz, None, None), motion_level=motion_level,
        request=ClipRequest(Path("clip.mp4"), **asked), gravity_mps2=STANDARD_GRAVITY_MPS2,
    )  # fmt: skip


def _filed(track: PoseTrack, stamps_file_s: Floats) -> PoseTrack:
    return replace(track, file_time_s=stamps_file_s)


@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 120.0])
def test_a_clip_in_real_time_keeps_its_clock(rate_hz: float) -> None:
    time_s = even_stamps(rate_hz, duration_s=4.0)
    scene = _scene(JUMP.track(time_s, noise_px=0.5), time_s, stature_m=STATURE_M)
    assert scene.clock.time_base.status == "as_filed"
    assert scene.time_s == pytest.approx(time_s)
    assert scene.frame_time_s == pytest.approx(time_s)
    assert scene.interval_s == pytest.approx(1 / rate_hz)
    assert scene.distinct.all()
    (flight,) = scene.flights
    assert flight.start_s == pytest.approx(JUMP.take_off_s, abs=0.06)
    assert scene.scale is not None
    assert scene.scale.m_per_px == pytest.approx(M_PER_PX, rel=0.03)


def test_slow_motion_is_put_on_the_real_clock() -> None:
    time_s = even_stamps(240.0, duration_s=4.0)
    stamps_file_s = 8 * time_s
    track = _filed(JUMP.track(time_s, noise_px=0.5), stamps_file_s)
    scene = _scene(track, stamps_file_s, stature_m=STATURE_M)
    assert scene.clock.time_base.status == "slow_motion"
    assert scene.clock.time_base.file_s_per_s == pytest.approx(8.0, rel=0.005)
    assert scene.clock.time_base.capture_rate_hz == pytest.approx(240.0, rel=0.005)
    assert scene.time_s == pytest.approx(time_s, rel=0.005)
    assert scene.interval_s == pytest.approx(1 / 240, rel=0.005)
    assert len(scene.flights) == 1
    assert scene.flights[0].start_s == pytest.approx(8 * JUMP.take_off_s, abs=0.3)  # file time


def test_pictures_shown_twice_are_one() -> None:
    time_s = even_stamps(30.0, duration_s=4.0)
    stamps_file_s = np.arange(2 * time_s.size) / 60.0
    twice = JUMP.track(np.repeat(time_s, 2) + np.tile([0.0, 1e-9], time_s.size))
    motion_level = np.where(np.arange(stamps_file_s.size - 1) % 2 == 0, 0.1, 10.0)
    scene = _scene(
        _filed(twice, stamps_file_s), stamps_file_s, motion_level=motion_level,
        stature_m=STATURE_M,
    )  # fmt: skip
    assert scene.distinct.sum() == pytest.approx(time_s.size, abs=2)
    assert scene.track.px.shape[0] == scene.distinct.sum()
    assert scene.time_s.shape[0] == scene.distinct.sum()
    assert scene.frame_time_s.shape == stamps_file_s.shape
    assert scene.interval_s == pytest.approx(1 / 30)
    assert len(scene.flights) == 1


def test_without_a_stature_there_are_flights_and_no_scale() -> None:
    time_s = even_stamps(60.0, duration_s=4.0)
    scene = _scene(JUMP.track(time_s), time_s)
    assert scene.scale is None
    assert len(scene.flights) == 1


def test_a_flight_that_falls_too_slowly_is_none() -> None:
    """Hung in ropes on a clock that a person vouches for: a sixth of gravity is no jump."""
    floating = IdealJump(height_m=0.15, take_off_s=1.5, gravity_mps2=1.62)
    assert floating.landing_s - floating.take_off_s < 0.95
    time_s = even_stamps(60.0, duration_s=5.0)
    scene = _scene(
        floating.track(time_s), time_s, stature_m=STATURE_M, capture_rate_hz=60.0
    )
    assert scene.clock.time_base.status == "as_filed"
    assert scene.flights == ()


@pytest.mark.parametrize("whole", [True, False])
def test_where_the_hips_are_misread_the_whole_body_tells(whole: bool) -> None:
    """Her hips seem to rise by little more than half; the rest of her does all the same, or not."""
    hips_share = 0.6
    time_s = even_stamps(60.0, duration_s=4.0)
    body, slack = (
        IdealJump(height_m=height_m, take_off_s=1.5, gravity_mps2=share * STANDARD_GRAVITY_MPS2)
        for height_m, share in ((0.30, 1.0), (0.30 * hips_share, hips_share))
    )
    track, misread = (one.track(time_s, noise_px=0.3) for one in (body, slack))
    hips = [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]
    px = track.px.copy() if whole else misread.px.copy()
    px[:, hips] = misread.px[:, hips]
    scene = _scene(replace(track, px=px), time_s, stature_m=STATURE_M)
    assert len(scene.flights) == whole


def test_a_second_too_long_in_the_air_is_none() -> None:
    tall = IdealJump(height_m=1.6, take_off_s=1.5)
    time_s = even_stamps(60.0, duration_s=5.0)
    scene = _scene(tall.track(time_s), time_s, stature_m=STATURE_M, capture_rate_hz=60.0)
    assert scene.flights == ()


@pytest.mark.parametrize("hidden", [Landmark.NOSE, Landmark.LEFT_TOE])
def test_who_is_hardly_ever_seen_whole_is_not_measured(hidden: Landmark) -> None:
    time_s = even_stamps(60.0, duration_s=2.0)
    track = JUMP.track(time_s)
    px = track.px.copy()
    px[6:, hidden] = np.nan
    with pytest.raises(NothingToMeasure, match="from head to feet") as told:
        _scene(replace(track, px=px), time_s)
    assert "whole body in view" in told.value.remedy


def test_swapped_legs_are_put_back() -> None:
    time_s = even_stamps(60.0, duration_s=4.0)
    track = JUMP.track(time_s)
    legs = [
        (getattr(FOOT_LANDMARKS["left"], name), getattr(FOOT_LANDMARKS["right"], name))
        for name in ("hip", "knee", "ankle", "heel", "toe")
    ]
    px = track.px.copy()
    for left, _ in legs:
        px[:, left, 0] += 60  # apart, so that legs can be told
    whole = replace(track, px=px)
    swapped = px.copy()
    for left, right in legs:
        swapped[100:112, left], swapped[100:112, right] = px[100:112, right], px[100:112, left]
    never = _scene(whole, time_s, stature_m=STATURE_M)
    put_back = _scene(replace(track, px=swapped), time_s, stature_m=STATURE_M)
    toes = [Landmark.LEFT_TOE, Landmark.RIGHT_TOE]
    assert put_back.track.px[:, toes] == pytest.approx(never.track.px[:, toes], abs=6.0)


def test_feet_are_put_on_every_frame_in_metres_of_the_scale() -> None:
    frame_time_s = even_stamps(120.0, duration_s=4.0)
    track = JUMP.track(frame_time_s)
    rows = np.arange(0, frame_time_s.size, 2)
    thinned = PoseTrack(
        rows, frame_time_s[rows], track.px[rows], track.visibility[rows], track.world_m[rows],
        1280, 720,
    )  # fmt: skip
    paths = foot_paths(_scene(thinned, frame_time_s, stature_m=STATURE_M))
    assert paths.frame_time_s == pytest.approx(frame_time_s)
    assert paths.px.shape == track.px.shape
    assert paths.px_per_m == pytest.approx(1 / M_PER_PX, rel=0.03)
    unscaled = foot_paths(_scene(thinned, frame_time_s))
    assert unscaled.standing_m == pytest.approx(1.70)
