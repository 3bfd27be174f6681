from __future__ import annotations

import math

import numpy as np
import pytest

from calibration.falls import Fall, FallSettings, measure_fall
from calibration.values import Refused
from tests.calibration.flights import fall_of, flight_path


@pytest.mark.parametrize(
    ("rate_hz", "per_frame2_px"),
    # Computed from the definition: 4 mm/px gives 2451.66 px/s2.
    [(240.0, 0.0425636), (120.0, 0.170254)],
)
def test_a_thrown_point_falls_at_g_over_the_scale(rate_hz: float, per_frame2_px: float) -> None:
    fall = fall_of(*flight_path(rate_hz=rate_hz))
    assert fall.fall_px_per_file_s2 == pytest.approx(2451.6625, rel=1e-9)
    assert fall.fall_px_per_file_s2 / rate_hz**2 == pytest.approx(per_frame2_px, abs=1e-6)
    assert fall.is_parabola
    assert fall.residual_px < 1e-9


def test_uneven_stamps_and_gaps_do_no_harm() -> None:
    times, heights = flight_path(rate_hz=120)
    kept = np.random.default_rng(2).random(times.size) > 0.4
    heights[20] = np.nan
    fall = fall_of(times[kept], heights[kept])
    assert fall.fall_px_per_file_s2 == pytest.approx(2451.6625, rel=1e-9)
    assert fall.missing_at_file_s is None


@pytest.mark.parametrize(("rate_hz", "percent"), [(240.0, 0.80), (60.0, 1.6)])
def test_sigma_follows_the_formula_and_the_scatter(rate_hz: float, percent: float) -> None:
    # sigma_a = 2 sqrt(180) sigma / (sqrt(N) T^2): 2 px, 121 samples, 0.5 s gives 19.5 px/s2.
    falls = [fall_of(*flight_path(rate_hz=rate_hz, noise_px=2.0, seed=seed)) for seed in range(80)]
    count = falls[0].sample_count
    formula = 2 * math.sqrt(180) * 2.0 / (math.sqrt(count) * 0.5**2)
    assert 100 * formula / 2451.66 == pytest.approx(percent, rel=0.05)
    seen = np.array([fall.fall_px_per_file_s2 for fall in falls])
    stated = np.array([fall.fall_sigma_px_per_file_s2 for fall in falls])
    assert seen.std() == pytest.approx(formula, rel=0.2)
    assert np.median(stated) == pytest.approx(formula, rel=0.25)
    assert 0.75 < np.sqrt(np.mean(((seen - 2451.66) / stated) ** 2)) < 1.3
    assert abs(seen.mean() - 2451.66) < 3 * formula / math.sqrt(len(falls))


def test_a_lost_point_does_not_pull_the_fit() -> None:
    times, heights = flight_path(rate_hz=60, noise_px=0.5)
    heights[14] += 40.0
    fall = fall_of(times, heights)
    assert abs(fall.fall_px_per_file_s2 - 2451.66) < 3 * fall.fall_sigma_px_per_file_s2
    assert fall.is_parabola


@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
def test_a_dropped_picture_that_stamps_hide_is_found(rate_hz: float) -> None:
    times, heights = flight_path(rate_hz=rate_hz, noise_px=0.3, flight_s=0.6)
    gone = times.size // 4
    fall = fall_of(times[:-1], np.delete(heights, gone))
    assert fall.missing_file_s == pytest.approx(1 / rate_hz)
    assert fall.missing_at_file_s == pytest.approx(times[gone] - 0.5 / rate_hz, abs=1.1 / rate_hz)
    assert fall.fall_px_per_file_s2 == pytest.approx(2451.66, rel=0.03)
    assert fall.duration_file_s == pytest.approx(0.6)


def test_a_double_gap_that_stamps_show_is_no_dropped_picture() -> None:
    times, heights = flight_path(rate_hz=60, noise_px=0.3)
    fall = fall_of(np.delete(times, 8), np.delete(heights, 8))
    assert fall.missing_at_file_s is None
    assert fall.duration_file_s == pytest.approx(0.5)


def test_a_slow_motion_ramp_within_the_flight_is_seen() -> None:
    _, heights = flight_path(rate_hz=240, noise_px=0.4)
    # Normal speed, then every picture: 240 in 30.
    shown = np.concatenate([heights[:56:8], heights[56:]])
    fall = fall_of(1.0 + np.arange(shown.size) / 30, shown)
    assert fall.changes_tempo
    assert not fall.is_parabola


@pytest.mark.parametrize("share", [0.25, 0.5, 0.75])
@pytest.mark.parametrize("slower", [True, False])
def test_half_the_speed_from_some_picture_on_is_seen(share: float, slower: bool) -> None:
    _, heights = flight_path(rate_hz=120, noise_px=0.3)
    at = round(share * heights.size)
    parts = [heights[:at:2], heights[at:]] if slower else [heights[:at], heights[at::2]]
    shown = np.concatenate(parts)
    assert fall_of(1.0 + np.arange(shown.size) / 60, shown).changes_tempo


def test_who_turns_in_the_air_changes_no_clock() -> None:
    """Hips and shoulders are seen from the side, then from the front: the body seems to sway."""
    off_px = [
        -3.7, -1.9, -0.1, 1.4, 1.7, 2.1, 1.6, 2.3, 2.4, 1.4, 0.2, -0.1, -1.1, -1.2, -2.5, -2.7,
        -1.9, -1.5, -0.9, 0.0, 0.8, 1.3, 1.5, 0.9,
    ]  # fmt: skip
    since_s = np.arange(len(off_px)) / 60
    heights = 2332 * since_s * (since_s[-1] - since_s) / 2 + off_px  # as poses of a jump had it
    fall = fall_of(1.0 + since_s, heights)
    assert not fall.changes_tempo
    assert fall.is_parabola


def test_a_picture_of_the_push_off_is_no_ramp() -> None:
    """Where the poses see a flight begin is known to a picture."""
    off_px = [7.3, -2.8, -4.8, -2.5, -2.2, -0.2, 1.4, 2.1, 2.2, 0.9, 0.3, 1.3, -0.4, -2.5]
    since_s = np.arange(len(off_px)) / 30
    heights = 2540 * since_s * (since_s[-1] - since_s) / 2 + off_px  # as poses of a jump had it
    fall = fall_of(1.0 + since_s, heights)
    assert not fall.changes_tempo
    assert fall.is_parabola
    assert fall.sample_count == len(off_px) - 2


@pytest.mark.parametrize("seed", range(8))
def test_noise_is_taken_neither_for_a_drop_nor_for_a_ramp(seed: int) -> None:
    for rate_hz in (30.0, 60.0, 240.0):
        fall = fall_of(*flight_path(rate_hz=rate_hz, noise_px=1.5, seed=seed))
        assert fall.is_parabola
        assert fall.missing_at_file_s is None


def test_a_body_that_does_not_fall_is_no_parabola() -> None:
    times = np.linspace(0.0, 0.5, 31)
    heights = 5 * np.sin(25 * times) + np.random.default_rng(3).normal(0, 0.5, 31)
    assert not fall_of(times, heights).is_parabola


def test_six_pictures_say_nothing() -> None:
    times, heights = flight_path(rate_hz=30, flight_s=0.16)
    refused = measure_fall(times, heights, airborne_file_s=(times[0], times[-1]))
    assert isinstance(refused, Refused)
    assert "distinct" in refused.reason
    few = FallSettings(fewest_samples=5)
    assert isinstance(
        measure_fall(times, heights, airborne_file_s=(times[0], times[-1]), settings=few), Fall
    )


def test_wrong_calls_are_named() -> None:
    times, heights = flight_path(rate_hz=30)
    with pytest.raises(ValueError, match="height_px"):
        measure_fall(times, heights[1:], airborne_file_s=(0.0, 1.0))
    with pytest.raises(ValueError, match="file_time_s"):
        measure_fall(times[::-1], heights, airborne_file_s=(0.0, 1.0))
    with pytest.raises(ValueError, match="airborne_file_s"):
        measure_fall(times, heights, airborne_file_s=(1.0, 1.0))
