"""Known motions and published values for the physics of a jump."""

from __future__ import annotations

import math

import numpy as np
import pytest

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.physics import (
    contact_time,
    flight_contact_ratio,
    flight_time,
    frame_counting_sigma_s,
    height_from_flight,
    height_from_flight_with_drop,
    height_sensitivity_mps,
    reactive_strength,
    take_off_speed,
)
from measure.types import Flight, Instant


def flight_of(
    time_s: float, *, starts_s: float = 1.0, take_off_sigma_s: float = 0.0,
    landing_sigma_s: float = 0.0,
) -> Flight:  # fmt: skip
    return Flight(
        take_off=Instant(starts_s, take_off_sigma_s),
        landing=Instant(starts_s + time_s, landing_sigma_s),
        take_off_side="both",
        landing_side="both",
    )


def test_a_thrown_point_rises_as_high_as_its_flight_time_says() -> None:
    speed_mps = 2.4
    height = height_from_flight(flight_of(2 * speed_mps / STANDARD_GRAVITY_MPS2))
    assert height.value == pytest.approx(speed_mps**2 / 2 / STANDARD_GRAVITY_MPS2, rel=1e-12)


@pytest.mark.parametrize(
    ("time_s", "height_cm"),
    [
        (0.300, 11.0325), (0.400, 19.6133), (0.450, 24.8231), (0.500, 30.6458),
        (0.550, 37.0814), (0.600, 44.1299), (0.700, 60.0657),
    ],
)  # fmt: skip
def test_height_table_at_standard_gravity(time_s: float, height_cm: float) -> None:
    # Calculated from g T^2 / 8 with g of the 3rd CGPM (1901).
    assert height_from_flight(flight_of(time_s)).value * 100 == pytest.approx(height_cm, abs=1e-4)


@pytest.mark.parametrize(("time_s", "speed_mps"), [(0.500, 2.45166), (0.600, 2.94199)])
def test_take_off_speed_table(time_s: float, speed_mps: float) -> None:
    # Calculated from g T / 2.
    assert take_off_speed(flight_of(time_s)).value == pytest.approx(speed_mps, abs=1e-5)


def test_a_millisecond_at_half_a_second_is_an_eighth_of_a_centimetre() -> None:
    # Calculated: dh/dT = g T / 4; one frame at 240 per second is 0.51 cm.
    assert height_sensitivity_mps(0.5) == pytest.approx(1.2258, abs=1e-4)
    assert height_sensitivity_mps(0.5) / 240 * 100 == pytest.approx(0.51, abs=0.005)


@pytest.mark.parametrize(
    ("gravity_mps2", "height_cm"),
    [(9.78032534, 30.5635), (9.80619777, 30.6444), (9.83218494, 30.7256), (9.81, 30.6563)],
)
def test_local_gravity_moves_the_height_by_half_a_percent(
    gravity_mps2: float, height_cm: float
) -> None:
    # WGS 84 normal gravity at the equator, 45 degrees and the pole.
    height = height_from_flight(flight_of(0.5), gravity_mps2=gravity_mps2)
    assert height.value * 100 == pytest.approx(height_cm, abs=1e-4)


@pytest.mark.parametrize(
    ("drop_m", "read_m"), [(0.0, 0.3), (0.01, 0.30498), (0.02, 0.30992), (0.03, 0.31482),
                           (0.053, 0.32596)]
)  # fmt: skip
def test_a_lower_landing_reads_high(drop_m: float, read_m: float) -> None:
    # Yamashita, Murata, Inaba 2020, doi:10.3390/app10030776: 5.3 cm lower gave + 2.5 cm.
    assert height_from_flight_with_drop(0.3, drop_m=drop_m) == pytest.approx(read_m, abs=1e-5)


def test_the_drop_formula_is_the_flight_of_a_point_that_lands_lower() -> None:
    up_s, down_s = (math.sqrt(2 * h / STANDARD_GRAVITY_MPS2) for h in (0.3, 0.34))
    read = height_from_flight(flight_of(up_s + down_s)).value
    assert height_from_flight_with_drop(0.3, drop_m=0.04) == pytest.approx(read, rel=1e-12)


def test_a_landing_above_the_top_is_refused() -> None:
    with pytest.raises(ValueError, match=r"drop_m: expected .* got 0\.3, -0\.4"):
        height_from_flight_with_drop(0.3, drop_m=-0.4)


def test_an_open_force_plate_trial() -> None:
    # BMClab/BMC, data/GRFZjump.txt, CC BY 4.0: below 20 N from sample 543 to 798 of 600 per
    # second; by impulse 2.165 m/s and 0.2390 m, so flight time reads 1.8 cm low here.
    flight = flight_of((798 - 543) / 600)
    assert flight_time(flight).value == pytest.approx(0.4250, abs=1e-4)
    assert height_from_flight(flight).value == pytest.approx(0.2214, abs=0.0002)
    by_impulse = flight_of(2 * 2.165 / STANDARD_GRAVITY_MPS2)
    assert height_from_flight(by_impulse).value == pytest.approx(0.2390, abs=0.0002)


@pytest.mark.parametrize(
    ("rate_hz", "sigma_ms"), [(30, 13.6), (60, 6.80), (120, 3.40), (240, 1.70)]
)
def test_counting_frames_scatters_as_the_formula_says(rate_hz: float, sigma_ms: float) -> None:
    # Calculated: triangular error on +- one frame, SD 1 / (f sqrt 6).
    rng = np.random.default_rng(7)
    take_off_s = rng.uniform(0, 1 / rate_hz, 100_000)
    true_s = 0.5 + rng.uniform(-1, 1, 100_000) / rate_hz
    first = np.ceil(take_off_s * rate_hz)
    after = np.ceil((take_off_s + true_s) * rate_hz)
    error_s = (after - first) / rate_hz - true_s
    assert frame_counting_sigma_s(rate_hz) * 1000 == pytest.approx(sigma_ms, abs=0.05)
    assert error_s.std() == pytest.approx(frame_counting_sigma_s(rate_hz), rel=0.05)
    assert abs(error_s.mean()) < 0.02 * frame_counting_sigma_s(rate_hz)


@pytest.mark.parametrize(
    ("time_s", "rate_hz", "sd_cm"),
    [(0.4516, 30, 1.51), (0.4947, 60, 0.83), (0.5712, 120, 0.48), (0.6387, 240, 0.27)],
)
def test_height_scatter_of_counted_frames(time_s: float, rate_hz: float, sd_cm: float) -> None:
    # Calculated: (g T / 4) times the frame-counting SD.
    sd_m = height_sensitivity_mps(time_s) * frame_counting_sigma_s(rate_hz)
    assert sd_m * 100 == pytest.approx(sd_cm, abs=0.006)


@pytest.mark.parametrize(
    ("filmed_hz", "read_hz", "factor"), [(240, 30, 64.0), (120, 30, 16.0), (240, 239.76, 1.0020)]
)
def test_a_wrong_rate_multiplies_the_height(
    filmed_hz: float, read_hz: float, factor: float
) -> None:
    right = height_from_flight(flight_of(0.5)).value
    wrong = height_from_flight(flight_of(0.5 * filmed_hz / read_hz)).value
    assert wrong / right == pytest.approx(factor, abs=5e-5 * factor)


@pytest.mark.parametrize(
    ("in_air_s", "on_ground_s", "index_mps", "ratio"),
    [(0.500, 0.200, 1.5323, 2.5), (0.450, 0.250, 0.9929, 1.8), (0.420, 0.180, 1.2013, 2.3333),
     (0.550, 0.220, 1.6855, 2.5)],
)  # fmt: skip
def test_reactive_strength_and_the_other_form(
    in_air_s: float, on_ground_s: float, index_mps: float, ratio: float
) -> None:
    # Calculated from h / CT and FT / CT.
    flight = flight_of(in_air_s)
    touchdown = Instant(flight.take_off.time_s - on_ground_s, 0.0)
    assert reactive_strength(touchdown, flight).value == pytest.approx(index_mps, abs=1e-4)
    assert flight_contact_ratio(touchdown, flight).value == pytest.approx(ratio, abs=1e-4)


@pytest.mark.parametrize(
    "measured", [flight_time, height_from_flight, take_off_speed, contact_time,
                 reactive_strength, flight_contact_ratio]
)  # fmt: skip
def test_sigma_is_the_scatter_of_the_result(measured: object) -> None:
    """Jitter the instants by what they claim; the take-off is shared by contact and flight."""
    rng = np.random.default_rng(11)
    sigmas_s = np.array([0.003, 0.002, 0.001])
    needs_touchdown = measured in (contact_time, reactive_strength, flight_contact_ratio)

    def result(jitter_s: np.ndarray) -> object:
        flight = Flight(
            Instant(1.0 + jitter_s[1], sigmas_s[1]), Instant(1.5 + jitter_s[2], sigmas_s[2]),
            "both", "both",
        )  # fmt: skip
        touchdown = Instant(0.8 + jitter_s[0], sigmas_s[0])
        return measured(touchdown, flight) if needs_touchdown else measured(flight)  # type: ignore[operator]

    scatter = np.std([result(rng.normal(0, sigmas_s)).value for _ in range(20_000)])
    assert result(np.zeros(3)).sigma == pytest.approx(scatter, rel=0.03)


def test_frame_limited_reactive_strength() -> None:
    # Calculated with four independent edges: 4.4 % at 60 per second, for 0.5 s over 0.2 s. The
    # take-off is one edge of both times and errs in both, so the honest figure is larger.
    edge_s = frame_counting_sigma_s(60) / math.sqrt(2)
    flight = flight_of(0.5, take_off_sigma_s=edge_s, landing_sigma_s=edge_s)
    index = reactive_strength(Instant(0.8, edge_s), flight)
    independent = math.hypot(2 / 0.5, 1 / 0.2) * frame_counting_sigma_s(60)
    assert independent == pytest.approx(0.044, abs=0.0005)
    assert index.sigma / index.value == pytest.approx(0.053, abs=0.0005)


@pytest.mark.parametrize("time_s", [0.0, -0.1])
def test_instants_out_of_order_are_a_wrong_call(time_s: float) -> None:
    with pytest.raises(ValueError, match="flight: expected landing after take-off"):
        height_from_flight(flight_of(time_s))
    with pytest.raises(ValueError, match="touchdown: expected before the take-off"):
        reactive_strength(Instant(1.0 - time_s, 0.0), flight_of(0.5))


def test_a_rate_of_zero_is_a_wrong_call() -> None:
    with pytest.raises(ValueError, match="capture_rate_hz: expected > 0, got 0"):
        frame_counting_sigma_s(0)
