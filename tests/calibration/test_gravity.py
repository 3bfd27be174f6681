from __future__ import annotations

import math

import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2, gravity_at


def test_standard_gravity_is_the_defined_value() -> None:
    # BIPM, 3rd CGPM (1901).
    assert STANDARD_GRAVITY_MPS2 == 9.80665


@pytest.mark.parametrize(
    ("latitude_deg", "expected_mps2"),
    # Somigliana's formula with the WGS 84 constants; first and last row are defining constants.
    [
        (0, 9.78032534), (30, 9.79324727), (40, 9.80169686), (45, 9.80619777),
        (50, 9.81070214), (60, 9.81917695), (90, 9.83218494),
    ],
)  # fmt: skip
def test_gravity_by_latitude(latitude_deg: float, expected_mps2: float) -> None:
    assert gravity_at(latitude_deg=latitude_deg) == pytest.approx(expected_mps2, abs=1e-8)
    assert gravity_at(latitude_deg=-latitude_deg) == gravity_at(latitude_deg=latitude_deg)


@pytest.mark.parametrize("latitude_deg", [0, 30, 40, 45, 50, 60, 90])
def test_gravity_agrees_with_the_1980_series(latitude_deg: float) -> None:
    sine = math.sin(math.radians(latitude_deg)) ** 2
    double = math.sin(2 * math.radians(latitude_deg)) ** 2
    series = 9.780327 * (1 + 0.0053024 * sine - 0.0000058 * double)
    assert gravity_at(latitude_deg=latitude_deg) == pytest.approx(series, abs=3e-6)


def test_gravity_falls_with_height() -> None:
    # NIMA TR8350.2 (from memory), computed.
    assert gravity_at(latitude_deg=45, height_m=1000) == pytest.approx(9.80311294, abs=1e-7)
    assert gravity_at(latitude_deg=39.74, height_m=1609) == pytest.approx(9.796502, abs=1e-6)
    drop = gravity_at(latitude_deg=45) - gravity_at(latitude_deg=45, height_m=1.0)
    assert drop == pytest.approx(3.086e-6, rel=0.002)


def test_standard_gravity_lies_at_45_and_a_half_degrees() -> None:
    assert gravity_at(latitude_deg=45.4996) == pytest.approx(STANDARD_GRAVITY_MPS2, abs=5e-8)


def test_there_is_no_latitude_of_91_degrees() -> None:
    with pytest.raises(ValueError, match="latitude_deg"):
        gravity_at(latitude_deg=91)
