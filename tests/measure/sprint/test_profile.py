from __future__ import annotations

import numpy as np
import pytest

from calibration.values import Estimate, Refused
from measure.report import ForceProfile
from measure.sprint.profile import Air, profile_force
from measure.sprint.run_force import profile_run
from measure.sprint.speed import SpeedCurve


def test_worked_example_with_drag() -> None:
    # Equations of Samozino et al. 2016 and Arsac and Locatelli 2002 (from memory); values computed.
    profile = profile_force(
        max_speed_mps=8.5, time_constant_s=1.25, mass_kg=70.0, stature_m=1.75, air=Air()
    )
    assert profile.force_n_per_kg == pytest.approx(6.7282, rel=0.005)
    assert profile.speed_mps == pytest.approx(8.8342, rel=0.005)
    assert profile.slope == pytest.approx(-0.76161, rel=0.005)
    assert profile.power_w_per_kg == pytest.approx(14.860, rel=0.005)
    assert profile.ratio_peak == pytest.approx(0.4797, rel=0.005)
    assert profile.ratio_slope_s_per_m == pytest.approx(-0.06994, rel=0.005)


def test_without_air_it_is_the_curve_itself() -> None:
    profile = profile_force(
        max_speed_mps=8.5, time_constant_s=1.25, mass_kg=70.0, stature_m=1.75,
        air=Air(pressure_torr=0.0),
    )  # fmt: skip
    assert profile.force_n_per_kg == pytest.approx(6.8)
    assert profile.speed_mps == pytest.approx(8.5)
    assert profile.power_w_per_kg == pytest.approx(14.45)


def test_a_body_without_mass_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="mass_kg: expected > 0, got 0"):
        profile_force(max_speed_mps=8.0, time_constant_s=1.0, mass_kg=0.0, stature_m=1.7)


def test_the_doubt_of_a_profile_is_that_of_its_curve() -> None:
    rng = np.random.default_rng(2)
    sigma, shared = (0.12, 0.08), 0.0070
    curve = SpeedCurve(
        Estimate(8.5, sigma[0]), Estimate(1.25, sigma[1]), Estimate(0.0, 0.0), 0.01, shared
    )
    found = profile_run(curve, mass_kg=70.0, stature_m=1.75)
    assert isinstance(found, ForceProfile)
    assert found.force_n_per_kg == pytest.approx(6.7282, rel=0.005)
    covariance = [[sigma[0] ** 2, shared], [shared, sigma[1] ** 2]]
    drawn = [
        profile_force(max_speed_mps=v, time_constant_s=t, mass_kg=70.0, stature_m=1.75)
        for v, t in rng.multivariate_normal([8.5, 1.25], covariance, 300)
    ]
    for name, told in (
        ("force_n_per_kg", found.force_sigma_n_per_kg), ("speed_mps", found.speed_sigma_mps),
        ("power_w_per_kg", found.power_sigma_w_per_kg),
    ):  # fmt: skip
        assert told == pytest.approx(np.std([getattr(each, name) for each in drawn]), rel=0.2)


def test_no_profile_on_a_slope() -> None:
    curve = SpeedCurve(Estimate(8.0, 0.1), Estimate(1.2, 0.1), Estimate(0.0, 0.0), 0.01)
    said = profile_run(curve, mass_kg=70.0, stature_m=1.75, slope_pct=4.0)
    assert isinstance(said, Refused)
    assert "+4 %" in said.reason
