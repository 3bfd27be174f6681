"""Ideal flights as a file would show them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.falls import Fall, FallSettings, measure_fall
from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.values import Scale

Floats = NDArray[np.float64]

M_PER_PX = 0.004
STATURE_RULER = Scale(M_PER_PX, 0.025 * M_PER_PX, source="stature")


def flight_path(
    *,
    rate_hz: float,
    slow: float = 1.0,
    flight_s: float = 0.5,
    start_file_s: float = 1.0,
    noise_px: float = 0.0,
    seed: int = 1,
) -> tuple[Floats, Floats]:
    """Stamps and heights (px, upwards) in a file of ``rate_hz`` that plays ``slow`` times slow."""
    count = round(flight_s * slow * rate_hz) + 1
    real_s = np.arange(count) / rate_hz / slow
    height_m = STANDARD_GRAVITY_MPS2 * real_s * (flight_s - real_s) / 2
    noise = np.random.default_rng(seed).normal(0.0, noise_px, count)
    return start_file_s + real_s * slow, 300.0 + height_m / M_PER_PX + noise


def fall_of(times: Floats, heights: Floats, *, settings: FallSettings | None = None) -> Fall:
    """The fall between the first and the last stamp."""
    fall = measure_fall(
        times, heights, airborne_file_s=(float(times[0]), float(times[-1])), settings=settings
    )
    assert isinstance(fall, Fall), fall
    return fall


def falls_at(
    *, rate_hz: float, slow: float = 1.0, flight_s: float = 0.5, count: int = 1
) -> tuple[Fall, ...]:
    """Several noisy flights of one clip."""
    return tuple(
        fall_of(
            *flight_path(
                rate_hz=rate_hz, slow=slow, flight_s=flight_s, noise_px=0.6, seed=number,
                start_file_s=1.0 + 4 * slow * number,
            )
        )
        for number in range(count)
    )  # fmt: skip
