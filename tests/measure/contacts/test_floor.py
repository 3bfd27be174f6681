"""The floor under each foot: on a box, under a walker, beside a foot that is held up."""

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.floor import list_runs, measure_foot_heights, stature_in_px
from measure.types import FOOT_LANDMARKS, Landmark
from tests.known_motions import DrawnScene, IdealJump, even_stamps
from tests.measure.contacts.stick_walks import (
    M_PER_PX,
    box_drop,
    bump,
    foot_moved,
    ramp,
    standing,
    walk_towards_camera,
)

JUMP = IdealJump(height_m=0.30, take_off_s=1.5)


def test_the_height_of_a_jumping_foot_is_its_true_one_in_statures() -> None:
    time_s = even_stamps(60.0, duration_s=3.5)
    track = JUMP.track(time_s)
    heights = measure_foot_heights(track)
    toe_px = track.px[:, Landmark.LEFT_TOE, 1]
    true = (toe_px[0] - toe_px) / heights.stature_px
    assert heights.left == pytest.approx(true, abs=0.004)
    assert heights.right == pytest.approx(true, abs=0.004)
    assert heights.of("left") is heights.left
    assert heights.of("right") is heights.right


@pytest.mark.parametrize("m_per_px", [0.002, 0.004, 0.009])
def test_statures_do_not_depend_on_the_distance_to_the_camera(m_per_px: float) -> None:
    time_s = even_stamps(60.0, duration_s=3.5)
    usual = measure_foot_heights(JUMP.track(time_s))
    other = measure_foot_heights(JUMP.track(time_s, scene=DrawnScene(m_per_px=m_per_px)))
    assert other.stature_px * m_per_px == pytest.approx(usual.stature_px * M_PER_PX)
    assert other.left == pytest.approx(usual.left, abs=1e-9)


def test_the_stature_is_taken_standing_not_crouching() -> None:
    time_s = even_stamps(60.0, duration_s=3.5)
    still = standing(time_s)
    crouched = JUMP.track(time_s)  # dips, flies and lands soft
    assert stature_in_px(crouched) == pytest.approx(stature_in_px(still), rel=0.02)


def test_a_stature_needs_nose_and_heels() -> None:
    track = standing(even_stamps(30.0, duration_s=1.0))
    px = track.px.copy()
    px[:, Landmark.NOSE] = np.nan
    with pytest.raises(ValueError, match="nose and heels"):
        stature_in_px(replace(track, px=px))


def test_a_foot_that_is_never_seen_is_an_error() -> None:
    track = standing(even_stamps(30.0, duration_s=1.0))
    px = track.px.copy()
    px[:, Landmark.LEFT_TOE] = np.nan
    with pytest.raises(ValueError, match="foot is never seen"):
        measure_foot_heights(replace(track, px=px))


@pytest.mark.parametrize(("rate_hz", "least", "most"), [(30.0, 1, 1), (60.0, 1, 2), (240.0, 3, 8)])
def test_the_stride_grows_with_the_frame_rate(rate_hz: float, least: int, most: int) -> None:
    heights = measure_foot_heights(JUMP.track(even_stamps(rate_hz, duration_s=3.5)))
    assert least <= heights.stride <= most


def test_both_levels_of_a_box_drop_are_floor() -> None:
    time_s = even_stamps(60.0, duration_s=4.0)
    track, landing_s = box_drop(time_s, box_m=0.30, off_s=2.0)
    heights = measure_foot_heights(track)
    on_box, on_ground = time_s < 1.5, time_s > landing_s + 0.1
    for foot in (heights.left, heights.right):
        assert np.abs(foot[on_box]).max() < 0.01
        assert np.abs(foot[on_ground]).max() < 0.01
    before_landing = np.argmin(np.abs(time_s - (2.0 + 0.5 * (landing_s - 2.0))))
    assert heights.right[before_landing] > 0.02


def test_the_floor_sinks_under_a_walker_who_comes_nearer() -> None:
    time_s = even_stamps(60.0, duration_s=7.0)
    track = walk_towards_camera(time_s, standing(time_s), start_s=1.5, steps=6, step_down_m=0.06)
    heights = measure_foot_heights(track)
    sunk_px = track.px[-1, Landmark.LEFT_TOE, 1] - track.px[0, Landmark.LEFT_TOE, 1]
    assert sunk_px > 0.2 * heights.stature_px * 0.5  # far more than what counts as clear
    for foot in (heights.left, heights.right):
        assert np.abs(foot[(time_s < 1.4) | (time_s > 4.7)]).max() < 0.01
        assert foot.max() > 0.04


def test_a_foot_held_up_does_not_stand() -> None:
    time_s = even_stamps(60.0, duration_s=5.0)
    up_m = 0.30 * ramp(time_s, 1.0, 1.4) * (1 - ramp(time_s, 3.6, 4.0))
    heights = measure_foot_heights(foot_moved(standing(time_s), "left", up_m=up_m))
    held = (time_s > 1.5) & (time_s < 3.5)
    assert heights.left[held].min() > 0.10
    assert np.abs(heights.right).max() < 0.01


def test_a_foot_held_up_from_the_first_picture_to_the_last_does_not_stand() -> None:
    time_s = even_stamps(60.0, duration_s=4.0)
    sways_m = 0.30 + 0.04 * np.sin(8 * time_s) * bump(time_s, 1.0, 3.0)
    heights = measure_foot_heights(foot_moved(standing(time_s), "left", up_m=sways_m))
    assert heights.left.min() > 0.10
    assert np.abs(heights.right).max() < 0.01


def test_gaps_are_bridged() -> None:
    time_s = even_stamps(60.0, duration_s=3.5)
    track = JUMP.track(time_s)
    px = track.px.copy()
    px[20:40, FOOT_LANDMARKS["left"].toe] = np.nan
    heights = measure_foot_heights(replace(track, px=px))
    assert np.isfinite(heights.left).all()
    assert heights.left == pytest.approx(measure_foot_heights(track).left, abs=0.01)


def test_a_shaky_pose_stays_within_what_counts_as_clear() -> None:
    time_s = even_stamps(60.0, duration_s=3.0)
    track = foot_moved(standing(time_s), "right", up_m=0.2 * bump(time_s, 0.3, 0.9))
    track = foot_moved(track, "left", up_m=0.2 * bump(time_s, 1.3, 1.9))
    px = track.px + np.random.default_rng(4).normal(0, 1.5, track.px.shape)
    heights = measure_foot_heights(replace(track, px=px))
    top = 0.2 / M_PER_PX / heights.stature_px
    assert np.abs(heights.left[time_s < 1.2]).max() < 0.02
    assert np.abs(heights.right[time_s > 1.0]).max() < 0.02
    assert heights.left.max() == pytest.approx(top, abs=0.02)
    assert heights.right.max() == pytest.approx(top, abs=0.02)


def test_runs_are_listed_and_joined_over_gaps() -> None:
    flags = np.array([1, 1, 0, 1, 0, 0, 0, 1, 1, 1], dtype=bool)
    assert list_runs(flags, gap=0) == [(0, 1), (3, 3), (7, 9)]
    assert list_runs(flags, gap=1) == [(0, 3), (7, 9)]
    assert list_runs(flags, gap=3) == [(0, 9)]
    assert list_runs(np.zeros(4, dtype=bool), gap=2) == []
