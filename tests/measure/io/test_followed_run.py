"""Runs that are not where the lane file says, and steps of which two witnesses tell."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import pytest

from measure.io.followed_run import FollowedRun, steps_of_run, wrong_line
from measure.io.runner import RunnerFilm
from measure.sprint.crossings import Crossings
from measure.sprint.feet import FeetPath
from measure.sprint.stands import Stand
from measure.sprint.steps import Steps
from measure.sprint.trace import RunTrace
from measure.types import Instant
from tests.measure.sprint.runs import path_of, running_feet


def run_with_feet(ground_m: float) -> FollowedRun:
    time_s = np.arange(0, 2, 1 / 30)
    places = {"left": 6 * time_s, "right": 6 * time_s}
    ground = {"left": ground_m + 0 * time_s, "right": ground_m + 0.01 + 0 * time_s}
    feet = FeetPath(time_s, cast(Any, places), cast(Any, ground), cast(Any, ground))
    path = path_of(time_s, 6 * time_s)
    nothing: Any = None
    film, trace = cast(RunnerFilm, nothing), cast(RunTrace, nothing)
    return FollowedRun(film, nothing, trace, path, feet, (), 1 / 30)


@pytest.mark.parametrize(("ground_m", "side"), [
    # A lens 1.3 m high, 17 m away: a line 2 m farther or nearer lies 0.15 m higher or lower.
    (0.19, "farther from"), (-0.11, "nearer to"),
])  # fmt: skip
def test_another_line_than_the_lane_file_says_is_refused(ground_m: float, side: str) -> None:
    said = wrong_line(run_with_feet(ground_m))
    assert said is not None
    assert f"the run goes {side} the phone" in said.reason


@pytest.mark.parametrize("ground_m", [0.01, 0.04, 0.1])
def test_where_the_model_puts_feet_inside_their_shoes_is_no_other_line(ground_m: float) -> None:
    assert wrong_line(run_with_feet(ground_m)) is None


@pytest.mark.parametrize(("by_pose_hz", "every", "told_hz"), [
    (4.0, 1, 4.0), (3.0, 1, 4.0),  # the pose misses some
    (4.0, 2, 4.0),  # the ground hides every second one
])  # fmt: skip
def test_the_ground_tells_the_steps_unless_it_hides_every_second_one(
    by_pose_hz: float, every: int, told_hz: float
) -> None:
    time_s = np.arange(0, 6, 1 / 30)
    path = path_of(time_s, 7 * time_s)
    feet = running_feet(time_s, path.distance_m, frequency_hz=by_pose_hz, from_s=0.0)
    stands = tuple(
        Stand(Instant(at_s, 0.01), Instant(at_s + 0.12, 0.01), 7 * at_s, Instant(at_s + 0.1, 0.01))
        for at_s in (0.8 + np.arange(20) / 4)[::every]
    )
    nothing: Any = None
    run = FollowedRun(nothing, nothing, nothing, path, feet, (), 1 / 30)
    crossings = Crossings((), np.zeros((0, 0)), ())
    steps = steps_of_run(run, Instant(0.5, 0.01), None, crossings, stands)
    assert isinstance(steps, Steps)
    assert steps.frequency_hz.value == pytest.approx(told_hz, rel=0.03)
