"""Rates at which cameras take pictures, and the ways in which a file can play them slow."""

from __future__ import annotations

from dataclasses import dataclass

CAPTURE_RATES_HZ = (24, 25, 30, 48, 50, 60, 90, 100, 120, 240, 480, 960)
"""What phones offer; each also exists times 1000 / 1001."""

NTSC = 1000 / 1001

RATE_WEIGHTS = {
    24: 0.01, 25: 0.01, 30: 0.02, 48: 0.01, 50: 0.02, 60: 0.05, 90: 0.02, 100: 0.02,
    120: 0.06, 240: 0.08, 480: 0.01, 960: 0.01,
}  # fmt: skip
"""How often, in a collection of clips, a file that says nothing is a capture at this rate played
slow. Only their order of size matters: gravity's likelihood spans many powers of ten."""


@dataclass(frozen=True, slots=True)
class SlowFactor:
    """One way in which a file may be slow."""

    file_s_per_s: float
    capture_rate_hz: float
    weight: float
    """Probability before gravity is heard."""


def nearest_capture_rate(rate_hz: float, *, tolerance: float = 0.012) -> int | None:
    """Standard rate that a measured rate stands for.

    Parameters
    ----------
    rate_hz : float
        From stamps or a note in the file.
    tolerance : float
        Largest relative distance; it covers the NTSC versions (0.1 %) and phones whose clock
        runs by the light's flicker.

    Returns
    -------
    int or None
        None where no standard rate is that near.
    """
    nearest = min(CAPTURE_RATES_HZ, key=lambda standard: abs(standard / rate_hz - 1))
    return nearest if abs(nearest / rate_hz - 1) <= tolerance else None


def slow_factors(distinct_rate_hz: float) -> tuple[SlowFactor, ...]:
    """Every standard capture rate that, played at this rate, would be slow motion.

    Parameters
    ----------
    distinct_rate_hz : float
        Different pictures per second of file time.

    Returns
    -------
    tuple of SlowFactor
        Factors above 1, ascending. A file of 29.97 is taken for one of 30: players are told
        whole factors, and 0.1 % of time is far below any doubt here.
    """
    written = nearest_capture_rate(distinct_rate_hz) or distinct_rate_hz
    return tuple(
        SlowFactor(rate / written, rate / written * distinct_rate_hz, RATE_WEIGHTS[rate])
        for rate in CAPTURE_RATES_HZ
        if rate / written > 1.03
    )
