from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from calibration.values import Refused
from measure.sprint.start import find_first_movement
from measure.types import Instant

Floats = NDArray[np.float64]


def growing(time_s: Floats, start_s: float) -> Floats:
    """Area that has left its place: as the square of the time, up to a body's."""
    return np.minimum(4 * np.maximum(time_s - start_s, 0) ** 2, 0.3)


@pytest.mark.parametrize(("rate_hz", "within_s"), [(30, 0.012), (60, 0.006), (240, 0.003)])
@pytest.mark.parametrize("phase", [0.0, 0.3, 0.7])
def test_a_clean_start_between_frames(rate_hz: int, within_s: float, phase: float) -> None:
    time_s = (np.arange(1.4 * rate_hz) + phase) / rate_hz
    rng = np.random.default_rng(2)
    change = growing(time_s, 0.8) + np.abs(rng.normal(0, 2e-5, time_s.size))
    start = find_first_movement(time_s, change, about_s=1.3)
    assert isinstance(start, Instant)
    assert start.time_s == pytest.approx(0.8, abs=within_s)
    assert 0.009 <= start.sigma_s < 0.02


def test_a_key_frame_before_the_start_is_no_movement() -> None:
    time_s = np.arange(0, 1.4, 1 / 60)
    change = growing(time_s, 0.8) + 0.0015 * (time_s > 0.72)
    start = find_first_movement(time_s, change, about_s=1.3)
    assert isinstance(start, Instant)
    assert start.time_s == pytest.approx(0.8, abs=0.015)


def test_a_key_frame_just_before_the_start_is_no_movement() -> None:
    time_s = np.arange(0, 1.4, 1 / 60)
    change = growing(time_s, 0.8) + 0.0012 * (time_s > 0.765)
    start = find_first_movement(time_s, change, about_s=1.3)
    assert isinstance(start, Instant)
    assert start.time_s == pytest.approx(0.8, abs=0.015)


def test_a_foot_that_sets_off_and_pauses_has_moved() -> None:
    time_s = np.arange(0, 1.4, 1 / 120)
    foot = 0.0017 * np.clip((time_s - 0.72) / 0.04, 0, 1) ** 2
    start = find_first_movement(time_s, growing(time_s, 0.8) + foot, about_s=1.3)
    assert isinstance(start, Instant)
    assert start.time_s == pytest.approx(0.725, abs=0.02)


def test_already_moving_is_refused() -> None:
    time_s = np.arange(0, 1, 1 / 60)
    for change, about_s in ((growing(time_s, -0.1), 0.5), (growing(time_s, 0.05), 0.2)):
        said = find_first_movement(time_s, change, about_s=about_s)
        assert isinstance(said, Refused)
        assert said.what == "start_s"


def test_swaying_before_the_start_is_refused() -> None:
    time_s = np.arange(0, 1.4, 1 / 60)
    sway = 0.02 * (1 + np.sin(2 * np.pi * 3 * time_s))
    said = find_first_movement(time_s, growing(time_s, 0.8) + sway, about_s=1.3)
    assert isinstance(said, Refused)


def test_a_picture_that_shifts_long_before_the_run_is_refused() -> None:
    time_s = np.arange(0, 1.6, 1 / 60)
    shifted = 0.02 * ((time_s > 0.5) & (time_s <= 1.0)) + growing(time_s, 0.95)
    said = find_first_movement(time_s, shifted, about_s=1.5)
    assert isinstance(said, Refused)
    assert "before the run" in said.reason


def test_a_small_picture_shows_a_start_late() -> None:
    # 7 m/s² from rest: 5 mm after 38 ms, half a pixel of 60 a metre after 49 ms.
    time_s = np.arange(0, 2, 1 / 120)
    near, far = (
        find_first_movement(time_s, growing(time_s, 0.8), about_s=1.3, px_per_m=px_per_m)
        for px_per_m in (150.0, 60.0)
    )
    assert isinstance(near, Instant)
    assert isinstance(far, Instant)
    assert near == find_first_movement(time_s, growing(time_s, 0.8), about_s=1.3)
    assert near.time_s - far.time_s == pytest.approx(0.011, abs=0.001)
    assert far.sigma_s > near.sigma_s
