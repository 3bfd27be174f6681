from __future__ import annotations

import numpy as np
import pytest

from calibration.values import Refused
from measure.sprint.speed import SpeedCurve, distance_after, fit_speed_curve, time_at

YARD_M = 0.9144  # exact: international agreement of 1959


def fitted(time_s: list[float], distance_m: list[float], *, offset: bool) -> SpeedCurve:
    curve = fit_speed_curve(np.array(time_s), np.array(distance_m), offset=offset)
    assert isinstance(curve, SpeedCurve), curve
    return curve


# Computed from x(t) = V (t - tau (1 - exp(-t / tau))).
MODEL_TIMES = [
    (8.0, 1.2, {5: 1.47352, 10: 2.26884, 20 * YARD_M: 3.41638, 20: 3.64233, 30: 4.93028,
                40 * YARD_M: 5.76214, 40: 6.19312}),
    (7.5, 1.0, {5: 1.42652, 10 * YARD_M: 2.09629, 10: 2.22530, 20 * YARD_M: 3.40520, 20: 3.64043,
                30: 4.99322, 40 * YARD_M: 5.87399, 40: 6.33155}),
]  # fmt: skip


@pytest.mark.parametrize(("speed_mps", "constant_s", "times"), MODEL_TIMES)
def test_model_times(speed_mps: float, constant_s: float, times: dict[float, float]) -> None:
    distance_m, expected_s = np.array(list(times)), np.array(list(times.values()))
    got_s = time_at(distance_m, max_speed_mps=speed_mps, time_constant_s=constant_s)
    np.testing.assert_allclose(got_s, expected_s, atol=6e-6)
    back_m = distance_after(got_s, max_speed_mps=speed_mps, time_constant_s=constant_s)
    np.testing.assert_allclose(back_m, distance_m, atol=1e-9)


@pytest.mark.parametrize(("speed_mps", "constant_s", "times"), MODEL_TIMES)
@pytest.mark.parametrize("offset", [False, True])
def test_model_times_give_the_curve_back(
    speed_mps: float, constant_s: float, times: dict[float, float], offset: bool
) -> None:
    curve = fitted(list(times.values()), list(times), offset=offset)
    assert curve.max_speed_mps.value == pytest.approx(speed_mps, abs=1e-3)
    assert curve.time_constant_s.value == pytest.approx(constant_s, abs=1e-3)
    assert curve.offset_s.value == pytest.approx(0, abs=1e-3)


# Berlin 2009, men's 100 m final, winner, laser (championship's biomechanics report); reaction
# time 0.146 s taken off. The curve's numbers were computed from these times.
BERLIN_S = [1.89, 2.88, 3.78, 4.64, 5.47, 6.29, 7.10, 7.92, 8.75, 9.58]


@pytest.mark.parametrize(
    ("count", "offset", "speed_mps", "constant_s", "rms_s"),
    [(6, False, 12.147, 1.221, 0.0076), (6, True, 12.308, 1.357, 0.0036),
     (10, False, 12.214, 1.238, 0.0094)],
)  # fmt: skip
def test_a_championship_final(
    count: int, offset: bool, speed_mps: float, constant_s: float, rms_s: float
) -> None:
    times_s = [time_s - 0.146 for time_s in BERLIN_S[:count]]
    curve = fitted(times_s, [10.0 * (k + 1) for k in range(count)], offset=offset)
    assert curve.max_speed_mps.value == pytest.approx(speed_mps, abs=0.02)
    assert curve.time_constant_s.value == pytest.approx(constant_s, abs=0.01)
    assert curve.rms_s == pytest.approx(rms_s, abs=0.001)
    if offset:
        assert curve.offset_s.value == pytest.approx(-0.071, abs=0.01)


# 140 elite women, soccer, gate start: Vescovi 2012, J Sports Med Phys Fitness 52 (mean speeds of
# 15.1, 18.0, 21.2 and 23.4 km/h over 5, 10, 20 and 35 m).
WOMEN_S = [1.192, 2.000, 3.396, 5.385]
WOMEN_M = [5.0, 10.0, 20.0, 35.0]


def test_a_gate_start_needs_the_offset() -> None:
    with_offset = fitted(WOMEN_S, WOMEN_M, offset=True)
    assert with_offset.max_speed_mps.value == pytest.approx(7.687, abs=0.03)
    assert with_offset.time_constant_s.value == pytest.approx(1.104, abs=0.03)
    assert with_offset.offset_s.value == pytest.approx(-0.266, abs=0.02)
    assert with_offset.rms_s < 0.004
    without = fitted(WOMEN_S, WOMEN_M, offset=False)
    assert without.max_speed_mps.value == pytest.approx(7.386, abs=0.03)
    assert without.time_constant_s.value == pytest.approx(0.661, abs=0.03)


def test_the_stated_doubt_covers_noise() -> None:
    rng = np.random.default_rng(3)
    distance_m = np.arange(2.0, 30.0, 1.0)
    true_s = time_at(distance_m, max_speed_mps=7.4, time_constant_s=1.1)
    off = []
    for _ in range(60):
        curve = fit_speed_curve(true_s + rng.normal(0, 0.005, true_s.size), distance_m)
        assert isinstance(curve, SpeedCurve)
        off.append((curve.max_speed_mps.value - 7.4) / curve.max_speed_mps.sigma)
    assert 0.75 < float(np.sqrt(np.mean(np.square(off)))) < 1.25


def test_too_few_times_are_refused() -> None:
    said = fit_speed_curve(np.array([1.0, 2.0, 3.0]), np.array([5.0, 11.0, 18.0]))
    assert isinstance(said, Refused)
    assert "needs 4" in said.reason


def test_a_constant_speed_is_no_sprint_from_rest() -> None:
    time_s = np.linspace(1, 4, 7)
    assert isinstance(fit_speed_curve(time_s, 7 * time_s, offset=False), Refused)
