"""The drawn runs that sprints are checked against are runs that a body could do."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.shuffle_motion import draw_shuffle
from sample_clips.sprint_motion import LAST_M, OTHER, draw_run


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


@pytest.mark.parametrize("seed", range(4))
def test_a_shuffles_feet_pass_each_other_first_in_the_turn(seed: int) -> None:
    run = draw_shuffle(np.random.default_rng(seed))
    lead, trail = run.front, OTHER[run.front]
    starts_s, ends_s = run.turn_s
    assert 0.3 < ends_s - starts_s < 0.5
    leaves_s = {side: [stand.end_s for stand in run.legs[side]] for side in (lead, trail)}
    lands_s = {side: [stand.start_s for stand in run.legs[side]] for side in (lead, trail)}
    assert starts_s in leaves_s[trail]
    assert ends_s in lands_s[trail]
    assert run.steps[0][0] == trail
    time_s = np.arange(run.hips.starts_s, run.hips.passes_s(run.last_m), 0.005)
    joints = run.joints(time_s)
    ahead_m = joints[f"{lead}_ankle"][:, 2] - joints[f"{trail}_ankle"][:, 2]
    assert ahead_m[time_s < starts_s].min() > 0
    assert ahead_m[np.argmin(np.abs(time_s - ends_s))] < -0.4
    # The body turns towards the leading side: it looks across the lane before, along it after.
    looks = joints["nose"] - (joints["left_ear"] + joints["right_ear"]) / 2
    across = looks[0, 0] * (1 if lead == "right" else -1)
    assert across > 3 * abs(looks[0, 2])
    assert looks[-1, 2] > 3 * abs(looks[-1, 0])
