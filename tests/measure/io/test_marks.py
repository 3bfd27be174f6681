from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_place import place_on_lane
from calibration.lane_values import Lane
from calibration.values import Refused
from measure.io.lane_file import load_lane
from measure.io.lane_watch import LaneWatch, watch_lane
from measure.io.marks import draw_marker, find_markers, propose_marks
from measure.io.read import open_clip
from measure.io.registration import CameraMoved, Registration
from tests.calibration.lanes import camera, hips_px, survey
from tests.measure.io.lane_pictures import ground, moved, small_move, with_cones

HIPS_M = np.linspace(1.0, 17.0, 5)


@pytest.mark.parametrize("height_px", [10.0, 16.0, 26.0])
def test_a_row_of_cones_is_proposed(height_px: float) -> None:
    marked = survey(camera())
    proposed = propose_marks(with_cones(ground(), marked, height_px=height_px))
    assert len(proposed) == 5
    feet = np.array([mark.px for mark in proposed])
    np.testing.assert_allclose(feet, [mark.px for mark in marked.marks], atol=1.5)
    assert all(mark.kind == "cone" for mark in proposed)


def test_grass_alone_gives_no_row() -> None:
    assert propose_marks(ground(3)) == ()


def test_printed_markers_are_read_with_their_numbers() -> None:
    picture = ground()
    for number, left in ((7, 200), (3, 900), (11, 1600)):
        picture[560:640, left : left + 80] = draw_marker(number, size_px=80)[..., None]
    found = propose_marks(picture)
    assert [mark.number for mark in found] == [7, 3, 11]
    np.testing.assert_allclose(
        [mark.px for mark in found], [(240, 630), (940, 630), (1640, 630)], atol=1.0
    )
    assert find_markers(ground()) == ()


@pytest.mark.clips
@pytest.mark.parametrize("name", ["sprint_60_field", "sprint_60_yaw", "shuffle_60_field"])
def test_near_cones_of_a_drawn_clip_are_among_the_proposals(
    shared_clips: Path, name: str
) -> None:
    with open_clip(shared_clips / f"{name}.mp4") as clip:
        wanted = [0, clip.stamps.frame_count // 2, clip.stamps.frame_count - 1]
        pictures = [frame.rgb() for frame in clip.frames(wanted=wanted)]
    proposed = propose_marks(np.median(pictures, axis=0).astype(np.uint8))
    found = np.array([mark.px for mark in proposed])
    marks = load_lane(shared_clips / f"{name}.lane.json").marks
    near = [np.hypot(*(found - mark.px).T).min() < 3.0 for mark in marks]
    assert all(seen for seen, mark in zip(near, marks, strict=True) if mark.row == "near")


def _lane() -> Lane:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    return lane


def test_a_lane_whose_cones_stand_where_they_were_stays() -> None:
    lane = _lane()
    watch = watch_lane(with_cones(ground(), lane.survey), lane)
    assert isinstance(watch, LaneWatch)
    assert watch.lane is lane
    assert watch.moved_px is not None


def test_a_nudged_phone_is_noticed_and_the_lane_fitted_again() -> None:
    lane = _lane()
    nudge = small_move(shift_px=(22.0, -9.0), turn_deg=0.2)
    watch = watch_lane(moved(with_cones(ground(), lane.survey), nudge), lane)
    assert isinstance(watch, LaneWatch)
    assert watch.moved_px == pytest.approx(np.hypot(22, 9), abs=3)
    hips = hips_px(camera(), HIPS_M) @ nudge[:, :2].T + nudge[:, 2]
    assert np.abs(place_on_lane(lane, hips).distance_m - HIPS_M).min() > 0.15
    np.testing.assert_allclose(place_on_lane(watch.lane, hips).distance_m, HIPS_M, atol=0.03)


def test_a_lane_marked_on_lines_cannot_be_watched() -> None:
    watch = watch_lane(ground(), _lane())
    assert isinstance(watch, LaneWatch)
    assert watch.moved_px is None


def test_cones_that_were_kicked_are_refused_or_left_alone() -> None:
    lane = _lane()
    shifted = tuple(
        type(mark)(mark.distance_m, (mark.px[0] + 12.0 * (k % 2), mark.px[1] + 7.0 * k), mark.row)
        for k, mark in enumerate(lane.survey.marks)
    )
    kicked = type(lane.survey)(shifted, (4.572,), 0.5)
    watch = watch_lane(with_cones(ground(), kicked), lane)
    assert isinstance(watch, Refused) or watch.lane is lane


@pytest.mark.parametrize(("shift_px", "turn_deg"), [((0.0, 0.0), 0.0), ((1.3, -0.7), 0.05),
                                                    ((14.0, 6.0), -0.3)])  # fmt: skip
def test_small_camera_motion_is_read_below_a_third_of_a_pixel(
    shift_px: tuple[float, float], turn_deg: float
) -> None:
    first, step = ground(), 3
    motion = small_move(shift_px=shift_px, turn_deg=turn_deg)

    def small_grey(picture: np.ndarray) -> np.ndarray:
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        return cv2.resize(grey, (640, 360), interpolation=cv2.INTER_AREA)

    read = Registration(small_grey(first), step).picture_from_first(
        small_grey(moved(first, motion))
    )
    corners = np.array([[0.0, 0], [1920, 0], [0, 1080], [960, 540]])
    np.testing.assert_allclose(
        corners @ read[:, :2].T + read[:, 2], corners @ motion[:, :2].T + motion[:, 2], atol=0.3
    )


@pytest.mark.parametrize("gain", [0.7, 1.0, 1.3])
def test_a_phone_that_opens_its_iris_has_not_moved(gain: float) -> None:
    """While an athlete in black covers a quarter of the picture."""
    rng = np.random.default_rng(6)
    room = np.full((360, 640), 150, np.uint8)
    for x, y in rng.uniform([0, 0], [600, 330], (90, 2)).astype(int):
        size = rng.integers(8, 40, 2)
        cv2.rectangle(room, (x, y), (x + size[0], y + size[1]), int(rng.integers(90, 245)), -1)
    room = cv2.GaussianBlur(room, (0, 0), 4)
    later = np.clip(gain * room.astype(float), 0, 255).astype(np.uint8)
    later[:, 240:400] = 15
    read = Registration(room, 3).picture_from_first(later)
    corners = np.array([[0.0, 0], [1920, 0], [0, 1080], [1920, 1080]])
    np.testing.assert_allclose(corners @ read[:, :2].T + read[:, 2], corners, atol=0.5)


@pytest.mark.parametrize("phase", [0.0, 2.0, 4.0])
@pytest.mark.parametrize("shift_px", [(0.0, 0.0), (9.0, 6.0)])
def test_bands_of_a_lamp_that_flickers_move_no_camera(
    phase: float, shift_px: tuple[float, float]
) -> None:
    """And what did move is read as well as in steady light."""
    motion = small_move(shift_px=shift_px)

    def small_grey(picture: np.ndarray, phase: float) -> np.ndarray:
        grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        small = cv2.resize(grey, (640, 360), interpolation=cv2.INTER_AREA).astype(float)
        gain = 1 + 0.25 * np.sin(np.linspace(0, 7.5, 360) + phase)
        return np.clip(small * gain[:, None], 0, 255).astype(np.uint8)

    first = ground()
    read = Registration(small_grey(first, 1.0), 3).picture_from_first(
        small_grey(moved(first, motion), phase)
    )
    corners = np.array([[0.0, 0], [1920, 0], [0, 1080], [960, 540]])
    np.testing.assert_allclose(
        corners @ read[:, :2].T + read[:, 2], corners @ motion[:, :2].T + motion[:, 2], atol=0.5
    )


def test_an_athlete_who_sets_off_in_front_of_a_plain_wall_moves_no_camera() -> None:
    rng = np.random.default_rng(5)
    first = np.full((360, 640), 120, np.uint8)
    for x, y in rng.uniform([160, 20], [630, 340], (24, 2)).astype(int):
        cv2.rectangle(first, (x, y), (x + 6, y + 9), 60, -1)
    athlete = rng.integers(60, 200, (14, 8), dtype=np.uint8).repeat(4, 0).repeat(4, 1)
    second = first.copy()
    first[200:256, 20:52] = athlete
    second[200:256, 20:52] = cv2.warpAffine(
        athlete, np.array([[1, 0, 0.6], [0, 1, 0.3]]), (32, 56), borderMode=cv2.BORDER_REFLECT
    )
    read = Registration(first, 3).picture_from_first(second)
    corners = np.array([[0.0, 0], [1920, 0], [0, 1080], [1920, 1080]])
    np.testing.assert_allclose(corners @ read[:, :2].T + read[:, 2], corners, atol=0.25)


@pytest.mark.parametrize("shift", [(0.0, 0.0), (2.0, -1.0)])
def test_a_jump_before_a_bare_wall_is_not_the_cameras_movement(shift: tuple[float, float]) -> None:
    """The athlete bears most of the clear corners, and they go up together."""
    rng = np.random.default_rng(7)
    wall = cv2.GaussianBlur(rng.normal(128, 6, (360, 640)).astype(np.float32), (0, 0), 2) + 10
    for x, y in ((40, 60), (120, 90), (520, 70), (580, 130), (60, 280), (540, 300)):
        cv2.rectangle(wall, (x, y), (x + 45, y + 30), 90, -1)
    athlete = rng.integers(20, 235, (50, 20), dtype=np.uint8).repeat(4, 0).repeat(4, 1)

    def picture(top: int) -> np.ndarray:
        seen = wall.copy()
        seen[top : top + 200, 280:360] = athlete
        move = np.array([[1.0, 0.0, shift[0] if top < 120 else 0], [0, 1, 0]])
        move[1, 2] = shift[1] if top < 120 else 0
        moved_on = cv2.warpAffine(seen, move, (640, 360), borderMode=cv2.BORDER_REFLECT)
        return np.clip(moved_on, 0, 255).astype(np.uint8)

    read = Registration(picture(130), 3).picture_from_first(picture(100))
    corners = np.array([[0.0, 0], [1920, 0], [0, 1080], [1920, 1080]])
    moved_px = corners @ read[:, :2].T + read[:, 2] - corners
    np.testing.assert_allclose(moved_px, np.tile(3 * np.array(shift), (4, 1)), atol=0.8)


def test_another_picture_altogether_is_a_moved_camera() -> None:
    first, other = (np.ascontiguousarray(ground(seed)[::3, ::3, 1]) for seed in (1, 2))
    with pytest.raises(CameraMoved):
        Registration(first, 3).picture_from_first(other)


def test_a_bare_wall_says_nothing_about_the_camera() -> None:
    wall = np.full((360, 640), 120, np.uint8)
    np.testing.assert_array_equal(
        Registration(wall, 3).picture_from_first(wall), [[1, 0, 0], [0, 1, 0]]
    )
