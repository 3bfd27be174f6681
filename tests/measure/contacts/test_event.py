"""Instants of synthetic patch paths: still on the floor, then free."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.event import LANDING, TAKE_OFF, EventFit, fit_event
from measure.contacts.plan import EventKind
from measure.contacts.trace import Trace
from measure.types import Floats
from tests.measure.contacts.drawn_shoe import PX_PER_M, SPEED_MPS, patch_trace

SETTINGS = {"take_off": TAKE_OFF, "landing": LANDING}
NOISE_M = TAKE_OFF.height_noise_m
"""The noise that the likelihood expects, so that its width must be the error."""


def _fit(trace: Trace, kind: EventKind) -> EventFit | None:
    return fit_event(
        trace, kind=kind, speed_mps=SPEED_MPS, px_per_m=PX_PER_M, settings=SETTINGS[kind]
    )


def _surely(trace: Trace, kind: EventKind) -> EventFit:
    fit = _fit(trace, kind)
    assert fit is not None
    return fit


def _drawn(kind: EventKind, rate_hz: float, count: int = 40) -> tuple[Floats, Floats]:
    """Errors and sigmas of random events whose speeds stray as the prior says."""
    rng, settings = np.random.default_rng(5), SETTINGS[kind]
    errors, sigmas = [], []
    for _ in range(count):
        instant_s = rng.uniform(-0.5, 0.5) / rate_hz
        speed_mps = SPEED_MPS * settings.speed_share
        speed_mps += SPEED_MPS * np.clip(rng.normal(0, settings.speed_share_sigma), -0.3, 0.3)
        trace = patch_trace(kind, instant_s, rate_hz, rng, speed_mps=speed_mps, noise_m=NOISE_M)
        fit = _surely(trace, kind)
        errors.append(fit.time_s - instant_s)
        sigmas.append(fit.sigma_s)
    return np.array(errors), np.array(sigmas)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize(
    ("rate_hz", "largest_rms_s"), [(30.0, 0.003), (60.0, 0.002), (120.0, 0.0015), (240.0, 0.001)]
)
def test_the_instant_comes_back_with_an_honest_sigma(
    kind: EventKind, rate_hz: float, largest_rms_s: float
) -> None:
    error_s, sigma_s = _drawn(kind, rate_hz)
    assert abs(error_s.mean()) < 0.0005
    assert np.sqrt((error_s**2).mean()) < largest_rms_s
    assert 0.65 < np.sqrt(((error_s / sigma_s) ** 2).mean()) < 1.35


def test_more_noise_widens_the_sigma() -> None:
    rng = np.random.default_rng(8)
    sigma_s = [
        np.mean([
            _surely(patch_trace("landing", 0.002, 120.0, rng, noise_m=noise_m), "landing").sigma_s
            for _ in range(8)
        ])
        for noise_m in (0.0005, 0.0025, 0.005)
    ]  # fmt: skip
    assert sigma_s[0] < sigma_s[1] < sigma_s[2]
    assert sigma_s[2] > 2 * sigma_s[0]


def test_speed_and_misfit_are_told() -> None:
    rng = np.random.default_rng(9)
    trace = patch_trace("landing", 0.001, 240.0, rng, speed_mps=2.1, noise_m=0.0010)
    fit = _surely(trace, "landing")
    assert fit.speed_mps == pytest.approx(2.1, abs=0.1)
    assert fit.residual_m == pytest.approx(0.0010, rel=0.5)
    assert fit.below_floor_m < 0.003
    assert fit.picture_count >= 8


def test_a_patch_that_sinks_into_the_floor_is_found_out() -> None:
    trace = patch_trace("take_off", 0.0, 120.0, np.random.default_rng(10))
    shift = trace.path.shift_px.copy()
    slips = (trace.path.time_s < -0.01) & (trace.path.time_s > -0.08)
    shift[slips, 1] += 0.03 * PX_PER_M
    slipped = replace(trace, path=replace(trace.path, shift_px=shift))
    fit = _surely(slipped, "take_off")
    assert fit.below_floor_m == pytest.approx(0.03, abs=0.01)
    assert fit.residual_m > 0.003


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("rate_hz", [30.0, 60.0, 240.0])
def test_a_patch_that_lost_its_shoe_in_the_air_jumps(kind: EventKind, rate_hz: float) -> None:
    trace = patch_trace(kind, 0.001, rate_hz, np.random.default_rng(13))
    away_s = trace.path.time_s if kind == "take_off" else -trace.path.time_s
    shift = trace.path.shift_px.copy()
    shift[np.flatnonzero(away_s > 0)[1 if kind == "take_off" else -2], 1] += 0.06 * PX_PER_M
    lost = replace(trace, path=replace(trace.path, shift_px=shift))
    followed = _surely(trace, kind)
    assert followed.jolt_m < 0.02
    assert _surely(lost, kind).jolt_m > 0.05


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("seed", range(6))
def test_a_picture_in_which_a_standing_foot_seems_in_the_air_counts_for_nothing(
    kind: EventKind, seed: int
) -> None:
    trace = patch_trace(kind, 0.001, 30.0, np.random.default_rng(seed))
    away_s = trace.path.time_s if kind == "take_off" else -trace.path.time_s
    last_but_one = np.flatnonzero(away_s < 0)[-2 if kind == "take_off" else 1]
    shift = trace.path.shift_px.copy()
    shift[last_but_one, 1] -= 0.06 * PX_PER_M
    strayed = _surely(replace(trace, path=replace(trace.path, shift_px=shift)), kind)
    assert strayed.time_s == pytest.approx(_surely(trace, kind).time_s, abs=0.004)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("rate_hz", [30.0, 60.0])
@pytest.mark.parametrize("seed", range(8))
def test_a_picture_that_leaves_what_is_looked_at_does_not_draw_the_instant(
    kind: EventKind, rate_hz: float, seed: int
) -> None:
    """A foot that still settles, 1 cm up, just where what counts as standing ends."""
    trace = patch_trace(kind, 0.0, rate_hz, np.random.default_rng(seed))
    away_s = trace.path.time_s if kind == "take_off" else -trace.path.time_s
    shift = trace.path.shift_px.copy()
    shift[away_s < -1.5 / rate_hz, 1] -= 0.01 * PX_PER_M
    fit = _surely(replace(trace, path=replace(trace.path, shift_px=shift)), kind)
    assert fit.time_s == pytest.approx(0.0, abs=0.004)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_a_foot_that_rolls_before_it_leaves_is_timed_at_its_tip(kind: EventKind) -> None:
    """A stiff shoe seen from the side turns about its tip while it still stands."""
    rng, instant_s = np.random.default_rng(11), 0.002
    trace = patch_trace(kind, instant_s, 240.0, rng, noise_m=0.0004)
    since_s = (trace.path.time_s - instant_s) * (1 if kind == "take_off" else -1)
    turn = 0.35 * np.clip((since_s + 0.05) / 0.05, 0, 1.6) ** 2
    tip = np.array([8.0 - 0.005 * PX_PER_M, 10.0])  # of the sole, from the patch's middle
    cos, sin = np.cos(turn), np.sin(turn)
    turned = np.stack([cos * tip[0] - sin * tip[1], sin * tip[0] + cos * tip[1]], axis=1)
    path = replace(trace.path, shift_px=trace.path.shift_px - (turned - tip), turn_rad=turn)
    fit = _surely(replace(trace, path=path, direction=1), kind)
    assert fit.time_s == pytest.approx(instant_s, abs=0.003)
    assert fit.below_floor_m < 0.003


def test_from_above_the_tip_is_higher_in_the_picture_than_the_near_edge() -> None:
    """A camera above the floor sees the sole's near edge below its tip."""
    rng, instant_s = np.random.default_rng(12), 0.002
    trace = patch_trace("take_off", instant_s, 240.0, rng, noise_m=0.0004)
    tip = np.array([20.0, 4.0])  # from the patch's middle
    edge = np.array([[20.0, 4.0], [18.0, 6.0], [14.0, 9.0], [8.0, 10.0], [0.0, 10.0], [-8.0, 10.0]])
    turn = 0.7 * np.clip((trace.path.time_s - instant_s + 0.03) / 0.03, 0, 1.1) ** 2
    cos, sin = np.cos(turn), np.sin(turn)
    turned = np.stack([cos * tip[0] - sin * tip[1], sin * tip[0] + cos * tip[1]], axis=1)
    path = replace(trace.path, shift_px=trace.path.shift_px - (turned - tip), turn_rad=turn)
    patch = replace(trace.patch, sole=edge + trace.patch.centre)
    fit = _surely(replace(trace, path=path, patch=patch, direction=1), "take_off")
    assert fit.time_s == pytest.approx(instant_s, abs=0.003)


def test_a_foot_that_never_moves_has_no_instant() -> None:
    assert _fit(patch_trace("take_off", 9.0, 120.0, np.random.default_rng(7)), "take_off") is None


def test_four_pictures_are_too_few() -> None:
    trace = patch_trace("take_off", 0.0, 60.0, np.random.default_rng(7))
    some = slice(5, 9)
    short = replace(
        trace.path, time_s=trace.path.time_s[some], shift_px=trace.path.shift_px[some],
        turn_rad=trace.path.turn_rad[some], misfit=trace.path.misfit[some], reference_row=0,
    )  # fmt: skip
    assert _fit(replace(trace, path=short), "take_off") is None
