from __future__ import annotations

import numpy as np
import pytest

from calibration.scale import (
    ASSUMED_STATURE,
    NOSE_SHARE,
    reconcile_scales,
    scale_from_gravity,
    scale_from_reference,
    scale_from_stature,
)
from calibration.standing import find_standing
from calibration.values import Estimate, Refused, Scale, TimeBase
from tests.calibration.flights import M_PER_PX, STATURE_RULER, falls_at

REAL_TIME = TimeBase("as_filed", 60.0, 1.0, ())


def athlete(
    *, stature_m: float = 1.70, rows: int = 180, seed: int = 1
) -> tuple[np.ndarray, np.ndarray]:
    """Nose and heels of one who stands, crouches to 70 %, jumps and stands again; 60 a second."""
    random = np.random.default_rng(seed)
    tall_px = NOSE_SHARE * stature_m / M_PER_PX
    time_s = np.arange(rows) / 60
    crouch = np.clip(1 - np.abs(time_s - 1.2) / 0.4, 0, 1)
    jump_px = np.clip(0.3 - 4.9 * (time_s - 1.85) ** 2, 0, None) / M_PER_PX
    heels = np.empty((rows, 2, 2))
    heels[:, :, 0] = [390.0, 410.0]
    heels[:, :, 1] = (620.0 - jump_px)[:, None]
    nose = np.stack([np.full(rows, 400.0), heels[:, 0, 1] - tall_px * (1 - 0.3 * crouch)], axis=1)
    return nose + random.normal(0, 0.3, nose.shape), heels + random.normal(0, 0.3, heels.shape)


def scale_of(nose: np.ndarray, heels: np.ndarray, *, stature_m: Estimate | float) -> Scale:
    scale = scale_from_stature(nose, heels, stature_m=stature_m)
    assert isinstance(scale, Scale), scale
    return scale


def test_standing_gives_the_scale_whatever_else_happens() -> None:
    scale = scale_of(*athlete(), stature_m=1.70)
    assert scale.m_per_px == pytest.approx(M_PER_PX, rel=0.01)
    assert 0.02 < scale.m_per_px_sigma / scale.m_per_px < 0.035
    assert scale.source == "stature"


def test_an_assumed_stature_says_how_little_it_knows() -> None:
    scale = scale_of(*athlete(stature_m=1.80), stature_m=ASSUMED_STATURE)
    assert abs(scale.m_per_px - M_PER_PX) < 1.5 * scale.m_per_px_sigma
    assert scale.m_per_px_sigma / scale.m_per_px > 0.058


def test_crouching_rows_and_rows_without_a_pose_are_left_out() -> None:
    nose, heels = athlete()
    nose[100:] = np.nan
    standing = find_standing(nose, heels)
    assert not isinstance(standing, Refused)
    assert not standing.rows[60:].any()
    assert standing.rows[:40].mean() > 0.8


@pytest.mark.parametrize("seed", range(4))
def test_poses_that_tremble_do_not_hide_that_somebody_stands(seed: int) -> None:
    """Each of 30 looks a second is off on its own, by half a hundredth of the height."""
    nose, heels = (rows[::2] for rows in athlete(rows=240))
    random = np.random.default_rng(seed)
    tremble_px = 0.005 * NOSE_SHARE * 1.70 / M_PER_PX
    nose = nose + random.normal(0, tremble_px, nose.shape)
    heels = heels + random.normal(0, tremble_px, heels.shape)
    scale = scale_of(nose, heels, stature_m=1.70)
    assert scale.m_per_px == pytest.approx(M_PER_PX, rel=0.02)
    standing = find_standing(nose, heels)
    assert not isinstance(standing, Refused)
    assert not standing.rows[30:42].any()  # crouching


def test_one_who_never_stands_still_is_refused() -> None:
    nose, heels = athlete()
    nose[:, 0] += 8 * np.arange(180)
    heels[:, :, 0] += 8 * np.arange(180)[:, None]
    refused = scale_from_stature(nose, heels, stature_m=1.70)
    assert isinstance(refused, Refused)
    assert refused.what == "scale"


@pytest.mark.parametrize("rows", [3, 10, 60])
def test_somebody_taller_who_is_followed_for_a_while_does_not_count(rows: int) -> None:
    nose, heels = athlete()
    nose[-rows:, 1] -= 150
    assert scale_of(nose, heels, stature_m=1.70).m_per_px == pytest.approx(M_PER_PX, rel=0.02)


def test_a_reference_length_carries_clicks_and_depth() -> None:
    scale = scale_from_reference(
        np.array([100.0, 300.0]), np.array([350.0, 300.0]), length_m=1.0, depth_doubt=0.0
    )
    assert scale.m_per_px == pytest.approx(0.004)
    assert scale.m_per_px_sigma / scale.m_per_px == pytest.approx(np.sqrt(2) / 250)
    # |error| is about depth over distance: 0.3 m at 6 m reads 5 % wrong.
    deep = scale_from_reference(
        np.array([100.0, 300.0]), np.array([350.0, 300.0]), length_m=1.0, depth_doubt=0.05
    )
    assert deep.m_per_px_sigma / deep.m_per_px == pytest.approx(0.0503, abs=1e-4)


@pytest.mark.parametrize("slow", [1.0, 8.0])
def test_gravity_is_a_ruler_where_the_clock_is_known(slow: float) -> None:
    clock = TimeBase("as_filed" if slow == 1 else "slow_motion", 60.0, slow, ())
    falls = falls_at(rate_hz=60.0, slow=slow)
    scale = scale_from_gravity(falls, time_base=clock)
    assert isinstance(scale, Scale)
    assert abs(scale.m_per_px - M_PER_PX) < 2 * scale.m_per_px_sigma
    assert scale.m_per_px == pytest.approx(M_PER_PX, rel=0.03)


def test_without_a_clock_or_a_flight_gravity_is_no_ruler() -> None:
    why = Refused("time_base", "why", "hint")
    clock = TimeBase("refused", 30.0, 1.0, (), refusal=why)
    assert scale_from_gravity(falls_at(rate_hz=60.0), time_base=clock) is why
    assert isinstance(scale_from_gravity((), time_base=REAL_TIME), Refused)


def test_scales_that_agree_give_the_surest() -> None:
    gravity = Scale(M_PER_PX * 1.05, M_PER_PX * 0.06, source="gravity")
    assert reconcile_scales([gravity, STATURE_RULER]) is STATURE_RULER


def test_a_mistyped_stature_is_contradicted_by_gravity() -> None:
    mistyped = scale_of(*athlete(stature_m=1.72), stature_m=1.27)
    gravity = scale_from_gravity(falls_at(rate_hz=60.0), time_base=REAL_TIME)
    assert isinstance(gravity, Scale)
    refused = reconcile_scales([mistyped, gravity])
    assert isinstance(refused, Refused)
    assert "1.3" in refused.reason
    assert "typing" in refused.hint


def test_wrong_calls_are_named() -> None:
    with pytest.raises(ValueError, match="stature_m"):
        scale_from_stature(*athlete(), stature_m=172.0)
    with pytest.raises(ValueError, match="second_px"):
        scale_from_reference(np.zeros(2), np.ones(2), length_m=1.0, depth_doubt=0.0)
    with pytest.raises(ValueError, match="scales"):
        reconcile_scales([])
