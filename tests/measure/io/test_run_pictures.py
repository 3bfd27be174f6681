"""Pictures and plots of a run, on a film of a few coloured frames."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from measure.io.read import open_clip
from measure.io.run_pictures import RunScene, draw_marks, write_run_pictures
from measure.io.run_plot import FITTED, plot_run, read_speed
from measure.io.runner import RunnerFilm
from measure.report import MarkTime, SprintReport
from measure.types import Landmark, PoseTrack
from tests.calibration.lanes import camera, survey
from tests.clip_files import even_ticks, write_film
from tests.measure.sprint.runs import START_S, path_of, sprint_m

TIME_S = np.arange(60) / 15
MARKS = (MarkTime(4.572, 2.3, 0.004), MarkTime(9.144, 3.0, 0.004))
REPORT = SprintReport(START_S, 0.01, "first_movement", MARKS)


def lane() -> Lane:
    fitted = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(fitted, Lane)
    return replace(fitted, survey=replace(fitted.survey, course_m=(4.572, 9.144, 18.288)))


def scene(shift_px: float = 0.0) -> RunScene:
    """A body whose every point is at the hips; the camera may have moved."""
    lane_px = picture_from_lane(lane(), sprint_m(TIME_S), np.full(TIME_S.size, 0.9))
    points = np.repeat(lane_px[:, None], len(Landmark), axis=1)
    rows = TIME_S.size
    track = PoseTrack(
        np.arange(rows), TIME_S, points + shift_px, np.ones((rows, len(Landmark))),
        np.zeros((rows, len(Landmark), 3)), 1920, 1080,
    )  # fmt: skip
    return RunScene(REPORT, lane(), RunnerFilm(track, TIME_S, points, rows, None), 1.0)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pictures = (np.full((1080, 1920, 3), 4 * number, np.uint8) for number in range(60))
    path = tmp_path_factory.mktemp("film") / "film.mp4"
    return write_film(path, pictures, ticks=even_ticks(60, 15))


def test_one_picture_for_the_start_and_each_mark_and_all_in_a_strip(
    film: Path, tmp_path: Path
) -> None:
    with open_clip(film) as clip:
        written = write_run_pictures(clip, scene(), tmp_path)
    assert [path.name for path in written] == ["start.jpg", "mark1.jpg", "mark2.jpg", "strip.jpg"]
    pictures = [cv2.imread(str(path)) for path in written]
    assert pictures[3].shape[1] == 3 * 320
    # Each shows the frame nearest to its moment: grey levels tell which.
    greys = [float(np.median(picture[:200])) for picture in pictures[:3]]
    np.testing.assert_allclose(greys, [4 * 15, 4 * 34, 4 * 45], atol=5)


def test_nothing_timed_gives_no_picture(film: Path, tmp_path: Path) -> None:
    nothing = replace(scene(), report=replace(REPORT, start_s=None, marks=()))
    with open_clip(film) as clip:
        assert write_run_pictures(clip, nothing, tmp_path) == []


@pytest.mark.parametrize("shift_px", [0.0, 40.0])
def test_posts_stand_where_the_marks_are_and_light_up_once_passed(shift_px: float) -> None:
    picture = np.zeros((1080, 1920, 3), np.uint8)
    draw_marks(picture, scene(shift_px), at_s=2.5)
    for mark_m, is_passed in ((4.572, True), (9.144, False)):
        x, y = picture_from_lane(lane(), np.array(mark_m), np.array(1.0)) + shift_px
        near = picture[round(y) - 2 : round(y) + 2, round(x) - 3 : round(x) + 4].reshape(-1, 3)
        red, green, blue = near[np.argmax(near.astype(int).sum(axis=1))].astype(float)
        assert min(red, green) > 120
        assert (blue < 0.3 * red) == is_passed


def test_speed_is_the_slope_of_the_path() -> None:
    time_s = np.arange(0, 5, 1 / 30)
    at_s, speed_mps = read_speed(path_of(time_s, sprint_m(time_s)))
    late = at_s > START_S + 0.5
    true_mps = 7.4 * (1 - np.exp(-(at_s[late] - START_S) / 1.1))
    np.testing.assert_allclose(speed_mps[late], true_mps, atol=0.05)


def test_the_plot_holds_the_fitted_curve_where_there_is_one() -> None:
    path = path_of(TIME_S, sprint_m(TIME_S))
    fitted = replace(REPORT, curve_speed_mps=7.4, time_constant_s=1.1, curve_offset_s=0.0)
    orange = [np.all(plot_run(path, each) == FITTED, axis=-1).sum() for each in (REPORT, fitted)]
    assert orange[0] == 0
    assert orange[1] > 200
