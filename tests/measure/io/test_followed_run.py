"""Runs that are not where the lane file says."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
import pytest

from measure.io.followed_run import FollowedRun, wrong_line
from measure.io.runner import RunnerFilm
from measure.sprint.feet import FeetPath
from measure.sprint.trace import RunTrace
from tests.measure.sprint.runs import path_of


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
