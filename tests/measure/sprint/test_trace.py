from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.trace import RunTrace, trace_runner
from tests.measure.sprint.runs import START_S, sprint_m

Floats = NDArray[np.float64]
TIME_S = np.arange(0, 6, 1 / 15)
LANE_M = np.arange(-3, 22, 0.1) + 0.05


def moving(*bodies: Floats, area_m2: float = 0.5, noise_m2: float = 0.002) -> Floats:
    """Moving area of bodies half a metre long; one at rest does not move."""
    rng = np.random.default_rng(1)
    area = rng.uniform(0, noise_m2, (TIME_S.size, LANE_M.size))
    for place_m in bodies:
        moves = np.abs(np.gradient(place_m, TIME_S)) > 0.1
        shape = np.exp(-0.5 * ((LANE_M[None, :] - place_m[:, None]) / 0.25) ** 2)
        area += area_m2 * moves[:, None] * shape / shape.sum(axis=1, keepdims=True).clip(1e-9)
    return area


def traced(area: Floats) -> RunTrace:
    trace = trace_runner(TIME_S, LANE_M, area)
    assert isinstance(trace, RunTrace), trace
    return trace


def test_a_sprint_from_rest() -> None:
    true_m = sprint_m(TIME_S)
    trace = traced(moving(true_m))
    seen = (TIME_S > START_S + 0.1) & (true_m < 21)
    np.testing.assert_allclose(trace.at(TIME_S[seen]), true_m[seen], atol=0.25)
    assert abs(trace.start_s - START_S) < 0.35
    assert trace.at(np.array(0.2)) < 0.0


def test_the_other_way() -> None:
    true_m = 18 - sprint_m(TIME_S)
    trace = traced(moving(true_m))
    seen = (TIME_S > START_S + 0.1) & (true_m > -2)
    np.testing.assert_allclose(trace.at(TIME_S[seen]), true_m[seen], atol=0.25)


def test_a_walker_who_crosses_for_the_whole_clip_is_not_followed() -> None:
    true_m, walker_m = sprint_m(TIME_S), 12 - 1.4 * TIME_S
    trace = traced(moving(true_m, walker_m, area_m2=0.6))
    seen = (TIME_S > START_S + 0.3) & (true_m < 21) & (np.abs(true_m - walker_m) > 2)
    np.testing.assert_allclose(trace.at(TIME_S[seen]), true_m[seen], atol=0.4)


def test_a_second_runner_far_behind_is_said() -> None:
    first_m = sprint_m(TIME_S)
    second_m = sprint_m(TIME_S - 2.2, speed_mps=6.5)
    trace = traced(moving(first_m, second_m))
    assert len(trace.others) == 1
    seen = (TIME_S > START_S + 0.3) & (first_m < 20)
    np.testing.assert_allclose(trace.at(TIME_S[seen]), first_m[seen], atol=0.4)


def test_two_side_by_side_are_refused() -> None:
    both = moving(sprint_m(TIME_S), sprint_m(TIME_S) + 2.0)
    said = trace_runner(TIME_S, LANE_M, both)
    assert isinstance(said, Refused)
    assert "close together" in said.reason


def test_there_and_back() -> None:
    true_m = 10 * np.sin(np.clip(TIME_S - 1, 0, 4) * np.pi / 4)
    trace = trace_runner(TIME_S, LANE_M, moving(true_m), returns=True)
    assert isinstance(trace, RunTrace)
    np.testing.assert_allclose(trace.at(TIME_S[20:70]), true_m[20:70], atol=0.4)


def test_nobody_and_a_clip_too_short() -> None:
    for rows in (TIME_S.size, 3):
        said = trace_runner(TIME_S[:rows], LANE_M, moving()[:rows])
        assert isinstance(said, Refused)
        assert "Nobody" in said.reason
