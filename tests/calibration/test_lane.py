from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_camera import LaneView, meet_plane, project
from calibration.lane_place import lane_covariance_m2, picture_from_lane, place_on_lane
from calibration.lane_values import Lane, LaneMark, LaneSurvey
from calibration.values import Refused
from tests.calibration.lanes import DISTANCES_M, VIEW, aimed, camera, hips_px, survey

HIPS_M = np.linspace(0.5, 18.0, 8)


def fitted(marked: LaneSurvey) -> Lane:
    lane = fit_lane(marked, width_px=1920, height_px=1080)
    assert isinstance(lane, Lane), lane
    return lane


def refused(marked: LaneSurvey) -> Refused:
    said = fit_lane(marked, width_px=1920, height_px=1080)
    assert isinstance(said, Refused)
    assert said.what == "lane"
    assert said.hint
    return said


@pytest.mark.parametrize("far", [False, True])
@pytest.mark.parametrize("yaw_deg", [-12.0, 0.0, 12.0])
def test_hips_are_read_to_a_centimetre_or_two_from_a_careful_marking(
    far: bool, yaw_deg: float
) -> None:
    yaw_rad = math.radians(yaw_deg)
    seen_by = aimed(yaw_rad=yaw_rad, height_m=1.45, roll_rad=0.008, distance_m=20.0)
    lane = fitted(survey(seen_by, far=far))
    read = place_on_lane(lane, hips_px(seen_by, HIPS_M))
    np.testing.assert_allclose(read.distance_m, HIPS_M, atol=0.015)
    np.testing.assert_allclose(read.height_m, 0.9, atol=0.15)


def test_a_mirrored_lane_reads_the_same() -> None:
    view = LaneView(1920, 1080, -1)
    seen_by = camera()
    lane = fitted(survey(seen_by, view=view))
    assert lane.direction == -1
    read = place_on_lane(lane, hips_px(seen_by, HIPS_M, view=view))
    np.testing.assert_allclose(read.distance_m, HIPS_M, atol=0.01)


def test_there_and_back_through_a_bent_lens() -> None:
    seen_by = camera(radial=-0.06)
    points_m = np.stack([HIPS_M, np.full(8, 0.9), np.full(8, 0.5)], axis=-1)
    back = meet_plane(seen_by, VIEW, project(seen_by, VIEW, points_m), depth_m=0.5)
    np.testing.assert_allclose(back, points_m[:, :2], atol=1e-6)


def test_a_bent_lens_is_fitted_within_its_bound() -> None:
    seen_by = camera(radial=-0.05)
    lane = fitted(survey(seen_by))
    read = place_on_lane(lane, hips_px(seen_by, HIPS_M))
    np.testing.assert_allclose(read.distance_m, HIPS_M, atol=0.02)


@pytest.mark.parametrize("view", [VIEW, LaneView(1920, 1080, -1)])
def test_on_a_slope_the_plane_through_a_mark_stays_upright(view: LaneView) -> None:
    slope = 0.06
    seen_by = camera(roll_rad=-view.direction * math.atan(slope))
    marked = survey(seen_by, view=view, slope_pct=100 * slope)
    lane = fitted(marked)
    read = place_on_lane(lane, hips_px(seen_by, HIPS_M, view=view, slope=slope))
    np.testing.assert_allclose(read.distance_m, HIPS_M, atol=0.015)
    px = picture_from_lane(lane, HIPS_M, np.full(8, 0.9))
    np.testing.assert_allclose(place_on_lane(lane, px).distance_m, HIPS_M, atol=1e-6)


def test_the_stated_doubt_covers_the_error() -> None:
    rng = np.random.default_rng(5)
    course_m = np.array(DISTANCES_M[1:])
    ratios = []
    for _ in range(25):
        seen_by = aimed(
            focal_px=1480 * rng.normal(1, 0.08), yaw_rad=rng.normal(0, 0.10), distance_m=22.0,
            pitch_rad=rng.normal(0.03, 0.05), roll_rad=rng.normal(0, 0.015),
            height_m=rng.normal(1.3, 0.2), radial=rng.normal(0, 0.02),
        )  # fmt: skip
        told_m = float(seen_by[6] + rng.normal(0, 0.1))
        line_m = rng.normal(0.5, 0.03)
        lane = fitted(survey(seen_by, noise_px=0.7, rng=rng, phone_distance_m=told_m))
        read = place_on_lane(lane, hips_px(seen_by, course_m, offset_m=line_m)).distance_m
        ratios.append((read - course_m) / np.sqrt(np.diag(lane_covariance_m2(lane, course_m))))
    assert 0.7 < float(np.sqrt(np.mean(np.square(ratios)))) < 1.3


def test_marks_that_fit_one_another_well_are_doubted_less() -> None:
    rng = np.random.default_rng(5)
    course_m = np.array([4.572, 18.288])
    sure, usual = (
        np.mean([
            np.diag(lane_covariance_m2(
                fitted(replace(
                    survey(camera(), noise_px=noise_px, rng=rng), athlete_offset_sigma_m=0.0
                )), course_m,
            ))
            for _ in range(12)
        ], axis=0)
        for noise_px in (0.05, 0.8)
    )  # fmt: skip
    assert np.all(sure < 0.8 * usual)


def test_an_uncertain_line_is_the_larger_doubt() -> None:
    marked = survey(camera())
    sure = fitted(replace(marked, athlete_offset_sigma_m=0.0))
    unsure = fitted(replace(marked, athlete_offset_sigma_m=0.10))
    end = np.array([18.288])
    # 10 cm off the line, 9.3 m along from the phone, 17.5 m away from it.
    added = lane_covariance_m2(unsure, end) - lane_covariance_m2(sure, end)
    assert math.sqrt(added[0, 0]) == pytest.approx(0.10 * 9.29 / 17.5, rel=0.1)


def test_without_the_phones_distance_it_still_fits_with_more_doubt() -> None:
    seen_by = camera()
    told, untold = fitted(survey(seen_by)), fitted(survey(seen_by, phone_distance_m=None))
    read = place_on_lane(untold, hips_px(seen_by, HIPS_M)).distance_m
    np.testing.assert_allclose(read, HIPS_M, atol=0.06)
    end = np.array([18.288])
    assert lane_covariance_m2(untold, end)[0, 0] >= lane_covariance_m2(told, end)[0, 0]


# Published: cross-ratio is kept by perspective (any text on projective geometry); the numbers are
# u = (100 + 120 x) / (1 + 0.05 x), computed.
def _camera_with_the_published_map() -> np.ndarray:
    focal_px, yaw = 1440 * math.tan(0.5), 0.5
    right = np.array([[math.cos(yaw), math.sin(yaw)], [-math.sin(yaw), math.cos(yaw)]])
    station_m, distance_m = np.linalg.solve(
        right, [860 * 20 * math.sin(yaw) / focal_px, 20 * math.sin(yaw)]
    )
    return np.array([focal_px, yaw, 0.0, 0.0, 0.0, station_m, distance_m, 0.0])


def test_cross_ratio_of_four_points_on_a_line() -> None:
    x_m = np.array([0.0, 5.0, 10.0, 20.0])
    points_m = np.stack([x_m, np.zeros(4), np.zeros(4)], axis=-1)
    u_px = project(_camera_with_the_published_map(), VIEW, points_m)[:, 0]
    np.testing.assert_allclose(u_px, [100, 560, 866.6666667, 1250], atol=1e-6)
    for a, b, c, d in (x_m, u_px):
        assert (a - c) * (b - d) / ((b - c) * (a - d)) == pytest.approx(1.5, abs=1e-9)


@pytest.mark.parametrize(("u_px", "x_m"), [(1000, 12.857143), (700, 7.058824), (1400, 26.0)])
def test_unknown_points_on_the_published_line(u_px: float, x_m: float) -> None:
    px = np.array([u_px, 540.0])
    met = meet_plane(_camera_with_the_published_map(), VIEW, px, depth_m=0.0)
    assert met[0] == pytest.approx(x_m, abs=1e-6)


@pytest.mark.parametrize(
    ("mark_m", "meets_m"), [(0, -1.1111111), (5, 4.4444444), (15, 15.5555556), (20, 21.1111111)]
)
def test_sight_lines_through_markers_meet_the_runners_line_elsewhere(
    mark_m: float, meets_m: float
) -> None:
    # Camera at 10 m along, markers 9 m away, runner 10 m away: x = x_c + (x_m - x_c) 10 / 9.
    seen_by = np.array([1480.0, 0, 0, 0, 1.0, 10.0, 9.0, 0.0])
    px = project(seen_by, VIEW, np.array([mark_m, 0.0, 0.0]))
    assert meet_plane(seen_by, VIEW, px, depth_m=1.0)[0] == pytest.approx(meets_m, abs=1e-6)


def _with_marks(marked: LaneSurvey, *marks: LaneMark) -> LaneSurvey:
    return replace(marked, marks=marks)


def test_too_few_marks_are_refused() -> None:
    marked = survey(camera())
    assert "2 distances" in refused(_with_marks(marked, *marked.marks[:2])).reason


def test_marks_on_one_point_are_refused() -> None:
    marked = survey(camera())
    twice = replace(marked.marks[1], distance_m=6.0)
    assert "on one point" in refused(_with_marks(marked, *marked.marks, twice)).reason


def test_marks_out_of_order_are_refused() -> None:
    marked = survey(camera())
    a, b, c, d, e = marked.marks
    swapped = (a, replace(b, px=c.px), replace(c, px=b.px), d, e)
    assert "out of order" in refused(_with_marks(marked, *swapped)).reason


def test_one_distance_twice_is_refused() -> None:
    marked = survey(camera())
    again = replace(marked.marks[2], distance_m=marked.marks[1].distance_m)
    rest = marked.marks[:2] + marked.marks[3:]
    assert "same distance" in refused(_with_marks(marked, *rest, again)).reason


@pytest.mark.parametrize("index", [0, 2, 4])
@pytest.mark.parametrize("far", [False, True])
def test_a_wrong_distance_is_named(index: int, far: bool) -> None:
    marked = survey(camera(), far=far)
    marks = list(marked.marks)
    marks[index] = replace(marks[index], distance_m=marks[index].distance_m + 0.9)
    said = refused(_with_marks(marked, *marks)).reason
    assert f"{marks[index].distance_m:g} m does not fit" in said


def test_a_row_three_times_too_long_for_the_phones_distance_is_refused() -> None:
    marked = survey(camera())
    marks = [replace(mark, distance_m=mark.distance_m * 3) for mark in marked.marks]
    assert "do not go together" in refused(_with_marks(marked, *marks)).reason


def test_a_scattered_row_is_refused() -> None:
    marked = survey(camera(), noise_px=25.0, rng=np.random.default_rng(2))
    refused(marked)


def test_marks_outside_the_picture_are_refused() -> None:
    said = fit_lane(survey(camera()), width_px=1280, height_px=720)
    assert isinstance(said, Refused)
    assert "outside the picture" in said.reason


def test_a_far_row_needs_its_spacing() -> None:
    assert "spacing" in refused(replace(survey(camera(), far=True), row_spacing_m=None)).reason
