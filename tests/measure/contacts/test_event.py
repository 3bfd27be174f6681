"""Instants of synthetic patch paths: still on the floor, then free."""

import math

import numpy as np
import pytest

from calibration.values import Refused
from measure.contacts.event import LANDING, TAKE_OFF, fit_event
from measure.contacts.follow import PatchPath
from measure.contacts.judge import FootEvent, fuse_feet, time_foot
from measure.contacts.patch import Patch
from measure.contacts.plan import EventKind, EventPlan
from measure.contacts.trace import Trace
from measure.types import Instant

PX_PER_M = 240.0
SPEED_MPS = 2.4


def _trace(
    kind: EventKind, instant_s: float, rate_hz: float, rng: np.random.Generator,
    noise_m: float = 0.0008, speed_mps: float = SPEED_MPS,
) -> Trace:  # fmt: skip
    """A rigid patch that leaves (or meets) the floor at an instant."""
    reach_s = max(0.11, 3.2 / rate_hz)
    time_s = np.arange(-reach_s, reach_s, 1 / rate_hz) + rng.uniform(0, 1 / rate_hz)
    since = (time_s - instant_s) * (1 if kind == "take_off" else -1)
    free, lag = np.maximum(since, 0), TAKE_OFF.lag_s
    gathered = free - lag * (1 - np.exp(-free / lag)) if kind == "take_off" else free
    rise_m = speed_mps * gathered - 4.9 * free**2
    noise = rng.normal(0, noise_m, (time_s.size, 2))
    shift = np.stack([noise[:, 0], -(rise_m + noise[:, 1])], axis=1) * PX_PER_M
    reference = int(np.argmin(np.abs(since + 0.055)))
    sole = np.array([[x, 10.0] for x in range(-8, 9)])
    flat = np.zeros((1, 1))
    patch = Patch(sole, np.zeros((17, 3)), np.ones((17, 1)), np.zeros(2), sole, flat > 0)
    path = PatchPath(time_s, shift, np.zeros(time_s.size), np.ones(time_s.size), reference)
    return Trace(patch, path, "toe", 0)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("rate_hz", [60.0, 120.0, 240.0])
def test_the_instant_comes_back_with_an_honest_sigma(kind: EventKind, rate_hz: float) -> None:
    rng = np.random.default_rng(5)
    settings = TAKE_OFF if kind == "take_off" else LANDING
    errors, sigmas = [], []
    for _ in range(25):
        instant_s = rng.uniform(-0.5, 0.5) / rate_hz
        speed_mps = SPEED_MPS * settings.speed_share * rng.normal(1, 0.05)
        trace = _trace(kind, instant_s, rate_hz, rng, speed_mps=speed_mps)
        fit = fit_event(
            trace, kind=kind, speed_mps=SPEED_MPS, px_per_m=PX_PER_M, settings=settings
        )
        assert fit is not None
        errors.append(fit.time_s - instant_s)
        sigmas.append(fit.sigma_s)
    error, sigma = np.array(errors), np.array(sigmas)
    assert abs(error.mean()) < 0.0015
    assert np.sqrt((error**2).mean()) < 0.003
    assert np.sqrt(((error / sigma) ** 2).mean()) < 1.3


def _plan(kind: EventKind = "take_off") -> EventPlan:
    nothing = np.empty(0, dtype=np.int64)
    return EventPlan(kind, "left", 0, 0.02, SPEED_MPS, nothing, 0, nothing, (0, 0, 9, 9))


def test_patches_that_agree_are_believed() -> None:
    rng = np.random.default_rng(6)
    traces = [_trace("take_off", 0.003, 120.0, rng) for _ in range(3)]
    event = time_foot(_plan(), traces, px_per_m=PX_PER_M, interval_s=1 / 120)
    assert isinstance(event, FootEvent)
    assert event.patch_count == 3
    assert abs(event.instant.time_s - 0.003) < 2 * event.instant.sigma_s


def test_a_foot_that_never_moves_is_refused() -> None:
    rng = np.random.default_rng(7)
    still = [_trace("take_off", 5.0, 120.0, rng)]
    event = time_foot(_plan(), still, px_per_m=PX_PER_M, interval_s=1 / 120)
    assert isinstance(event, Refused)
    assert "left foot take-off" in event.what


def test_feet_that_leave_together_are_averaged() -> None:
    events = [
        FootEvent("left", Instant(1.000, 0.003), 3, 0.001),
        FootEvent("right", Instant(1.004, 0.003), 3, 0.001),
    ]
    instant, side = fuse_feet(events, kind="take_off") or pytest.fail("nothing fused")
    assert instant.time_s == pytest.approx(1.002)
    assert instant.sigma_s < 0.0035
    assert side == "both"


@pytest.mark.parametrize(("kind", "expected_s"), [("take_off", 1.05), ("landing", 1.00)])
def test_apart_the_last_off_and_the_first_on_count(kind: EventKind, expected_s: float) -> None:
    events = [
        FootEvent("left", Instant(1.00, 0.002), 3, 0.001),
        FootEvent("right", Instant(1.05, 0.002), 3, 0.001),
    ]
    instant, _ = fuse_feet(events, kind=kind) or pytest.fail("nothing fused")
    assert math.isclose(instant.time_s, expected_s)


def test_no_foot_no_event() -> None:
    assert fuse_feet([], kind="landing") is None
