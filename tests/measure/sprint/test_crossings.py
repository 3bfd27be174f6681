from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.sprint.crossings import CrossingSettings, time_crossings
from measure.sprint.local import fit_locally
from measure.sprint.speed import time_at
from measure.sprint.splits import time_splits
from measure.types import Instant
from tests.measure.sprint.runs import REST_M, START_S, path_of, sprint_m

COURSE_M = (4.572, 9.144, 13.716, 18.288)
SURE_M2 = np.zeros((4, 4))


def true_times_s() -> np.ndarray:
    away_m = np.array(COURSE_M) - REST_M
    return START_S + time_at(away_m, max_speed_mps=7.4, time_constant_s=1.1)


@pytest.mark.parametrize("rate_hz", [30, 60, 120, 240])
@pytest.mark.parametrize("phase", [0.0, 0.37])
def test_marks_between_frames(rate_hz: int, phase: float) -> None:
    time_s = (np.arange(5 * rate_hz) + phase) / rate_hz
    found = time_crossings(path_of(time_s, sprint_m(time_s)), COURSE_M, lane_covariance_m2=SURE_M2)
    assert not found.refusals
    np.testing.assert_allclose([m.time_s for m in found.marks], true_times_s(), atol=0.0012)


def test_constant_speed_is_exact() -> None:
    time_s = np.arange(0, 4, 1 / 30)
    found = time_crossings(path_of(time_s, 6 * time_s), COURSE_M, lane_covariance_m2=SURE_M2)
    np.testing.assert_allclose(
        [m.time_s for m in found.marks], np.array(COURSE_M) / 6, atol=1e-9
    )
    assert found.marks[0].speed_mps == pytest.approx(6)


def test_uneven_timestamps_gaps_and_outliers() -> None:
    rng = np.random.default_rng(4)
    time_s = np.sort(rng.uniform(0, 5, 220))
    hidden = np.abs(time_s - true_times_s()[1]) < 0.15
    distance_m = sprint_m(time_s) + rng.normal(0, 0.01, time_s.size)
    distance_m[::17] += 0.25
    found = time_crossings(
        path_of(time_s[~hidden], distance_m[~hidden]), COURSE_M, lane_covariance_m2=SURE_M2
    )
    np.testing.assert_allclose([m.time_s for m in found.marks], true_times_s(), atol=0.004)


@pytest.mark.parametrize("wander_m", [0.008, 0.03])
def test_the_stated_doubt_covers_what_a_hip_is_worth(wander_m: float) -> None:
    rng = np.random.default_rng(8)
    settings = CrossingSettings()
    time_s = np.arange(0, 5, 1 / 30)
    marks, splits = [], []
    for _ in range(80):
        phases = 2 * np.pi * (np.outer(time_s, [0.8, 1.2, 1.8]) + rng.uniform(0, 1, 3))
        wander = wander_m * np.sqrt(2 / 3) * np.cos(phases).sum(axis=1)
        distance_m = sprint_m(time_s) + rng.normal(0, settings.hip_sigma_m) + wander
        distance_m = distance_m + rng.normal(0, 0.012, time_s.size)
        found = time_crossings(path_of(time_s, distance_m), COURSE_M, lane_covariance_m2=SURE_M2)
        error_s = np.array([m.time_s for m in found.marks]) - true_times_s()
        marks += list(error_s / [m.sigma_s for m in found.marks])
        timed = time_splits(found, None)
        splits += list(np.diff(error_s) / [split.sigma_s for split in timed])
    assert 0.75 < np.sqrt(np.mean(np.square(marks))) < 1.25
    assert 0.6 < np.sqrt(np.mean(np.square(splits))) < 1.25


def test_a_body_that_is_often_missed_is_believed_less_and_one_gap_costs_nothing() -> None:
    time_s = np.arange(0, 5, 1 / 30)
    at_s = true_times_s()[1]
    gap = np.abs(time_s - at_s - 0.1) < 0.1
    missed = (np.abs(time_s - at_s) < 0.4) & (np.arange(time_s.size) % 5 < 3)

    def sigma_m(seen: np.ndarray) -> float:
        path = path_of(time_s[seen], sprint_m(time_s[seen]))
        mark = time_crossings(path, COURSE_M, lane_covariance_m2=SURE_M2).marks[1]
        assert mark.time_s == pytest.approx(at_s, abs=0.003)
        return mark.sigma_s * mark.speed_mps

    assert sigma_m(~gap) == pytest.approx(sigma_m(time_s > 0), rel=0.1)
    assert 0.05 < sigma_m(~missed) < 0.1


def test_a_body_that_turns_shares_no_forward_offset_between_before_and_after() -> None:
    time_s = np.arange(0, 4, 1 / 30)
    path = path_of(time_s, 6 * time_s)
    turning = replace(path, profile=np.where(time_s < 1.1, 0.0, 1.0))
    for each, shared_s2 in ((path, (0.005 / 6) ** 2), (turning, 0.0)):
        found = time_crossings(each, COURSE_M, lane_covariance_m2=SURE_M2)
        assert found.covariance_s2[0, 3] == pytest.approx(shared_s2, abs=1e-12)
        assert found.covariance_s2[2, 3] == pytest.approx((0.005 / 6) ** 2)


def test_what_marks_share_drops_out_of_their_splits() -> None:
    time_s = np.arange(0, 4, 1 / 60)
    shared_m2 = np.full((4, 4), 0.05**2)
    found = time_crossings(path_of(time_s, 7 * time_s), COURSE_M, lane_covariance_m2=shared_m2)
    assert found.marks[0].sigma_s > 0.05 / 7
    splits = time_splits(found, Instant(0.2, 0.01))
    assert splits[0].from_m is None
    assert splits[0].time_s == pytest.approx(4.572 / 7 - 0.2)
    assert splits[1].sigma_s < 0.003
    assert splits[1].mean_speed_mps == pytest.approx(7)


def test_there_and_back_in_the_order_of_the_course() -> None:
    time_s = np.arange(0, 6, 1 / 60)
    distance_m = 5 * np.sin(time_s * np.pi / 5)  # out to 5 m at 2.5 s and back at 5 s
    found = time_crossings(
        path_of(time_s, distance_m), (3.0, 3.0, 1.0), lane_covariance_m2=np.zeros((3, 3))
    )
    expected_s = np.array([np.arcsin(0.6), np.pi - np.arcsin(0.6), np.pi - np.arcsin(0.2)])
    np.testing.assert_allclose([m.time_s for m in found.marks], expected_s * 5 / np.pi, atol=0.004)
    assert [np.sign(m.speed_mps) for m in found.marks] == [1, -1, -1]


def test_a_mark_that_is_not_reached_leaves_the_others() -> None:
    time_s = np.arange(0, 2, 1 / 60)
    found = time_crossings(path_of(time_s, 6 * time_s), COURSE_M, lane_covariance_m2=SURE_M2)
    assert [m.distance_m for m in found.marks] == [4.572, 9.144]
    assert [r.what for r in found.refusals] == ["mark 13.716 m", "mark 18.288 m"]
    assert "does not pass" in found.refusals[0].reason
    assert found.covariance_s2.shape == (2, 2)


def test_a_mark_named_twice_and_passed_once() -> None:
    time_s = np.arange(0, 4, 1 / 60)
    found = time_crossings(
        path_of(time_s, 6 * time_s), (9.144, 9.144), lane_covariance_m2=np.zeros((2, 2))
    )
    assert len(found.marks) == 1
    assert "does not pass 9.144 m once more" in found.refusals[0].reason


def test_a_mark_passed_unseen_is_refused() -> None:
    time_s = np.arange(0, 4, 1 / 60)
    seen = np.abs(time_s - 9.144 / 6) > 0.5
    found = time_crossings(
        path_of(time_s[seen], 6 * time_s[seen]), COURSE_M, lane_covariance_m2=SURE_M2
    )
    assert [r.what for r in found.refusals] == ["mark 9.144 m"]
    assert "not seen" in found.refusals[0].reason


def test_nobody_seen_at_all() -> None:
    nothing = np.empty(0)
    found = time_crossings(path_of(nothing, nothing), (5.0,), lane_covariance_m2=np.zeros((1, 1)))
    assert not found.marks
    assert "nowhere" in found.refusals[0].reason


def test_a_parabola_is_read_exactly_and_sparse_points_are_not() -> None:
    time_s = np.arange(0, 1, 0.02)
    fit = fit_locally(time_s, 3 + 2 * time_s + time_s**2, at_s=0.5, half_width_s=0.3)
    assert fit is not None
    assert (fit.value, fit.slope) == (pytest.approx(4.25), pytest.approx(3.0))
    assert fit_locally(time_s[:4], time_s[:4], at_s=0.03, half_width_s=0.3) is None
    assert fit_locally(time_s, time_s, at_s=1.2, half_width_s=0.25) is None
