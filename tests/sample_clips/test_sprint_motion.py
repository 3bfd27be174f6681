"""The drawn runs that sprints are checked against are runs that a body could do."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.sprint_motion import LAST_M, draw_run


@pytest.mark.parametrize("seed", range(4))
def test_hips_go_as_told_and_feet_stand_still_on_the_ground(seed: int) -> None:
    run = draw_run(np.random.default_rng(seed))
    hips = run.hips
    reached_s = hips.passes_s(LAST_M)
    expected_mps = hips.final_mps * (1 - np.exp(-(reached_s - hips.starts_s) / hips.tau_s))
    assert hips.speed_at(reached_s) == pytest.approx(expected_mps, rel=0.01)
    time_s = np.arange(0, reached_s, 0.005)
    joints = run.joints(time_s)
    middle_m = (joints["left_hip"] + joints["right_hip"]) / 2
    np.testing.assert_allclose(middle_m, run.place_m(time_s), atol=1e-9)
    for side in ("left", "right"):
        assert joints[f"{side}_stretch"].max() < 1.06
        assert joints[f"{side}_tip"][:, 1].min() > -0.008
        stood = [(start, end) for foot, start, end in run.steps if foot == side and end < reached_s]
        for start_s, end_s in stood:
            on = (time_s > start_s) & (time_s < end_s)
            assert np.ptp(joints[f"{side}_tip"][on], axis=0).max() < 1e-9
