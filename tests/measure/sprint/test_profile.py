from __future__ import annotations

import pytest

from measure.sprint.profile import Air, profile_force


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
