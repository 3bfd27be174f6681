"""Known motions through the cleaning: what is smooth stays, what is wild goes."""

from __future__ import annotations

import numpy as np
import pytest

from measure.clean import CleanSettings, clean_track
from measure.types import Landmark, PoseTrack

GRAVITY_PX_PER_S2 = 2000.0


def even_s(rate_hz: float, duration_s: float = 2.0) -> np.ndarray:
    return np.arange(round(rate_hz * duration_s)) / rate_hz


def uneven_s(rate_hz: float, duration_s: float = 2.0) -> np.ndarray:
    shifts = np.random.default_rng(3).uniform(-0.3, 0.3, round(rate_hz * duration_s))
    return (np.arange(shifts.size) + shifts) / rate_hz


def track_of(time_s: np.ndarray, y_px: np.ndarray) -> PoseTrack:
    """A body 150 px from hips to shoulders whose points all move up and down by ``y_px``."""
    px = np.empty((time_s.size, len(Landmark), 2))
    px[..., 0] = 300.0
    px[..., 1] = 400.0 + y_px[:, None]
    px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER], 1] -= 150.0
    world_m = np.repeat(px / 100, [1, 2], axis=-1)
    return PoseTrack(
        np.arange(time_s.size), time_s, px, np.full(px.shape[:2], 0.9), world_m, 1280, 720
    )


def ankle_y_px(track: PoseTrack) -> np.ndarray:
    return track.px[:, Landmark.LEFT_ANKLE, 1] - 400.0


@pytest.mark.parametrize("rate_hz", [30, 60, 120, 240])
@pytest.mark.parametrize("times", [even_s, uneven_s])
def test_free_fall_passes_unchanged(rate_hz, times):
    time_s = times(rate_hz)
    y_px = 0.5 * GRAVITY_PX_PER_S2 * (time_s - 1) ** 2
    cleaned = clean_track(track_of(time_s, y_px))
    np.testing.assert_allclose(ankle_y_px(cleaned), y_px, atol=1e-6)
    np.testing.assert_allclose(cleaned.world_m[..., 1] * 100, cleaned.px[..., 1], atol=1e-6)


@pytest.mark.parametrize("rate_hz", [30, 60, 120, 240])
def test_oscillation_keeps_its_size_and_phase(rate_hz):
    time_s = even_s(rate_hz)
    y_px = 100 * np.sin(2 * np.pi * 3 * time_s)
    inner = (time_s > 0.1) & (time_s < 1.9)
    cleaned = ankle_y_px(clean_track(track_of(time_s, y_px)))
    basis = np.stack([np.sin(6 * np.pi * time_s), np.cos(6 * np.pi * time_s)], axis=1)[inner]
    in_phase, out_of_phase = np.linalg.lstsq(basis, cleaned[inner], rcond=None)[0]
    assert 98 < in_phase < 100.5
    assert abs(out_of_phase) < 0.1


@pytest.mark.parametrize(("rate_hz", "at_most"), [(60, 0.85), (120, 0.6), (240, 0.45)])
def test_noise_is_reduced(rate_hz, at_most):
    time_s = even_s(rate_hz, 8.0)
    noise_px = np.random.default_rng(5).normal(0, 2.0, time_s.size)
    cleaned = ankle_y_px(clean_track(track_of(time_s, noise_px)))
    assert np.std(cleaned[20:-20]) < at_most * np.std(noise_px)


def test_short_gap_is_bridged_on_the_parabola():
    time_s = even_s(60)
    y_px = 0.5 * GRAVITY_PX_PER_S2 * (time_s - 1) ** 2
    track = track_of(time_s, y_px)
    track.px[50:54], track.world_m[50:54], track.visibility[50:54] = np.nan, np.nan, 0.0
    cleaned = clean_track(track)
    np.testing.assert_allclose(ankle_y_px(cleaned), y_px, atol=1e-6)
    assert not cleaned.visibility[50:54].any(), "a bridged row was still not seen"


def test_long_gap_stays_and_nothing_reaches_across():
    time_s = even_s(60)
    y_px = np.where(time_s < 1, 0.0, 500.0)
    track = track_of(time_s, y_px)
    track.px[55:65], track.world_m[55:65] = np.nan, np.nan
    cleaned = ankle_y_px(clean_track(track))
    assert np.isnan(cleaned[55:65]).all()
    np.testing.assert_allclose(cleaned[:55], 0.0, atol=1e-6)
    np.testing.assert_allclose(cleaned[65:], 500.0, atol=1e-6)


def test_gap_length_counts_on_the_clock_that_is_given():
    time_s = even_s(60)
    track = track_of(time_s, np.zeros(time_s.size))
    track.px[50:60] = np.nan
    assert np.isnan(ankle_y_px(clean_track(track))).any()
    # The same file, played eight times slow: the gap lasted 23 ms.
    assert not np.isnan(ankle_y_px(clean_track(track, time_s=time_s / 8))).any()


def test_one_landmark_may_be_missing():
    time_s = even_s(60)
    track = track_of(time_s, np.zeros(time_s.size))
    track.px[40:80, Landmark.LEFT_KNEE] = np.nan
    cleaned = clean_track(track)
    assert np.isnan(cleaned.px[45:75, Landmark.LEFT_KNEE]).all()
    assert np.isfinite(cleaned.px[:, Landmark.LEFT_ANKLE]).all()


@pytest.mark.parametrize("rate_hz", [60, 120])
def test_wild_point_is_taken_out(rate_hz):
    time_s = even_s(rate_hz)
    y_px = 100 * np.sin(2 * np.pi * time_s)
    track = track_of(time_s, y_px + np.random.default_rng(2).normal(0, 1.0, time_s.size))
    track.px[rate_hz, Landmark.LEFT_ANKLE, 1] += 90.0
    cleaned = ankle_y_px(clean_track(track))
    assert np.abs(cleaned - y_px).max() < 5.0


def test_hard_landing_is_not_wild():
    time_s = even_s(60)
    y_px = np.minimum(600.0 * (time_s - 1), 0.0)
    cleaned = ankle_y_px(clean_track(track_of(time_s, y_px)))
    far = np.abs(time_s - 1) > 0.05
    np.testing.assert_allclose(cleaned[far], y_px[far], atol=1e-6)
    assert np.abs(cleaned - y_px).max() < 5.0


def test_nobody_and_single_rows():
    time_s = even_s(60, 0.1)
    track = track_of(time_s, np.zeros(time_s.size))
    track.px[:], track.world_m[:] = np.nan, np.nan
    assert np.isnan(clean_track(track).px).all()
    one = track_of(np.array([0.0]), np.array([7.0]))
    assert ankle_y_px(clean_track(one)) == pytest.approx(7.0)


@pytest.mark.parametrize("first_s", [0.0, 0.1, 1 / 3, 0.7, 7.3])
def test_a_row_at_the_edge_of_what_is_in_reach_holds_no_parabola(first_s):
    """Three pictures at 60 per second are 0.05 s, give or take the rounding of a float."""
    kept = [number for number in range(60) if number % 5 in (0, 1, 4)]
    time_s = first_s + np.array(kept) / 60
    y_px = 300 * time_s
    np.testing.assert_allclose(ankle_y_px(clean_track(track_of(time_s, y_px))), y_px, atol=1e-3)


def test_wrong_clock_is_refused():
    time_s = even_s(60)
    track = track_of(time_s, np.zeros(time_s.size))
    with pytest.raises(ValueError, match="time_s"):
        clean_track(track, time_s=time_s[:-1])
    with pytest.raises(ValueError, match="time_s"):
        clean_track(track, time_s=time_s[::-1])


def test_wider_settings_smooth_more():
    time_s = even_s(240)
    noise_px = np.random.default_rng(5).normal(0, 2.0, time_s.size)
    track = track_of(time_s, noise_px)
    little, much = (
        np.std(ankle_y_px(clean_track(track, settings=CleanSettings(half_width_s=h))))
        for h in (0.03, 0.08)
    )
    assert much < little
