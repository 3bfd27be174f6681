"""Hips on the lane, of bodies that the model reads a little ahead of themselves."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_camera import project
from calibration.lane_values import Lane
from measure.sprint.path import read_hip_path
from measure.types import Landmark
from tests.calibration.lanes import VIEW, camera, survey

TIME_S = np.arange(0, 1.5, 1 / 30)
AHEAD_M, LEAN_M = 0.025, 0.2
"""Of the hips, by the model's habit, and of the nose, which leans."""


@pytest.mark.parametrize("from_m", [0.5, 14.0])
@pytest.mark.parametrize("towards", [1.0, -1.0])
def test_hips_of_a_body_that_faces_the_phone_or_turns_its_back(
    from_m: float, towards: float
) -> None:
    seen_by = camera(yaw_rad=0.0)
    lane = fit_lane(survey(seen_by), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    true_m = from_m + 2.7 * TIME_S
    joints_m = np.zeros((TIME_S.size, len(Landmark), 3))
    joints_m[..., 0], joints_m[..., 2] = true_m[:, None], 0.5
    for landmark, aside_m, height_m, ahead_m in (
        (Landmark.LEFT_HIP, 0.1, 0.8, AHEAD_M), (Landmark.RIGHT_HIP, -0.1, 0.8, AHEAD_M),
        (Landmark.LEFT_SHOULDER, 0.18, 1.29, AHEAD_M),
        (Landmark.RIGHT_SHOULDER, -0.18, 1.29, AHEAD_M),
        (Landmark.NOSE, 0.0, 1.5, LEAN_M), (Landmark.LEFT_EAR, 0.07, 1.5, 0.1),
        (Landmark.RIGHT_EAR, -0.07, 1.5, 0.1),
    ):  # fmt: skip
        joints_m[:, landmark] += [towards * aside_m, height_m, -towards * ahead_m]
    path = read_hip_path(TIME_S, project(seen_by, VIEW, joints_m), lane)
    np.testing.assert_allclose(path.profile, 0.0, atol=0.25)
    # Unmended it would be 1 cm at the lane's ends.
    assert np.mean(path.distance_m - true_m) == pytest.approx(0.0, abs=0.004)
