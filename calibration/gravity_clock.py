"""How slow a file plays, read from the falls in it: file seconds per real second."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.falls import Fall
from calibration.values import Scale

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class GravityClockSettings:
    """Tunables of `read_gravity_clock`."""

    body_model_m: float = 0.006
    """Bend that limbs add to the path of the centre of mass, as a height. It hardly matters in
    a jump and makes a hop or a running stride a poor clock."""
    method_sigma: float = 0.028
    """Relative doubt common to all flights of a clip: perspective, posture, body model. On drawn
    clips the factor was right within 0.92 to 1.03."""
    disagreement_sigmas: float = 3.5
    disagreement_ratio: float = 1.2
    """Two flights whose factors differ by more than both lie on different clocks."""
    impossible_sigmas: float = 4.0
    """A flight this far from what a factor asks for rules the factor out."""
    arc_doubt: float = 0.2
    """Relative doubt of an arc's height for that."""
    coarsest_witness: float = 0.35
    """A flight whose own relative sigma is larger says nothing."""


@dataclass(frozen=True, slots=True)
class GravityReading:
    """What the falls say together."""

    factor: float
    """File seconds per real second."""
    sigma: float
    """Relative standard uncertainty of the factor, doubt of scale and method included."""
    flight_factors: tuple[float, ...]
    """One for each flight used, in order of time."""
    flights: tuple[Fall, ...]
    disagree: bool
    """Flights lie on different clocks: slow and normal sections in one file."""


def read_gravity_clock(
    falls: tuple[Fall, ...],
    *,
    ruler: Scale,
    gravity_mps2: float,
    settings: GravityClockSettings | None = None,
) -> GravityReading | None:
    """Compare the falls seen with the one that gravity gives.

    Parameters
    ----------
    falls : tuple of Fall
        Flights that are no parabola are left out.
    ruler : Scale
        From a stature or a reference length, never from gravity.
    gravity_mps2 : float
    settings : GravityClockSettings, optional

    Returns
    -------
    GravityReading or None
        None where no flight is a witness.

    Notes
    -----
    factor = sqrt(g / (m_per_px * fall)). *When this is wrong*: an athlete nearer to the camera
    than where the ruler was taken by a share d reads a factor low by d / 2.
    """
    settings = settings or GravityClockSettings()
    used = [
        (fall, sigma)
        for fall in falls
        if fall.is_parabola and (sigma := _own_sigma(fall, ruler, settings)) is not None
    ]
    if not used:
        return None
    logs = np.array(
        [
            0.5 * math.log(gravity_mps2 / (ruler.m_per_px * fall.fall_px_per_file_s2))
            for fall, _ in used
        ]
    )
    sigmas = np.array([sigma for _, sigma in used])
    weights = 1 / sigmas**2
    mean = float(weights @ logs / weights.sum())
    scatter = max(1.0, float(weights @ (logs - mean) ** 2) / max(len(used) - 1, 1))
    scale_sigma = 0.5 * ruler.m_per_px_sigma / ruler.m_per_px
    return GravityReading(
        factor=math.exp(mean),
        sigma=math.sqrt(scatter / weights.sum() + scale_sigma**2 + settings.method_sigma**2),
        flight_factors=tuple(float(factor) for factor in np.exp(logs)),
        flights=tuple(fall for fall, _ in used),
        disagree=_disagree(logs, sigmas, settings),
    )


def allows_factor(
    fall: Fall,
    factor: float,
    *,
    ruler: Scale,
    gravity_mps2: float,
    settings: GravityClockSettings | None = None,
) -> bool:
    """Tell whether a flight, however poorly seen, may have happened this many times faster.

    A small hop is too poor a clock to tell 3 times slow from 4, yet half a second in the air
    without a rise is no real time.

    Parameters
    ----------
    fall : Fall
    factor : float
        File seconds per real second.
    ruler : Scale
    gravity_mps2 : float
    settings : GravityClockSettings, optional

    Returns
    -------
    bool
    """
    settings = settings or GravityClockSettings()
    half = fall.duration_file_s**2 / 8
    expected_m = gravity_mps2 * half / factor**2
    seen_m = ruler.m_per_px * fall.fall_px_per_file_s2 * half
    noise_m = ruler.m_per_px * (fall.fall_sigma_px_per_file_s2 * half + fall.residual_px)
    doubt_m = math.hypot(noise_m, settings.body_model_m, settings.arc_doubt * expected_m)
    return abs(expected_m - seen_m) <= settings.impossible_sigmas * doubt_m


def _own_sigma(fall: Fall, ruler: Scale, settings: GravityClockSettings) -> float | None:
    """Relative sigma of one flight's factor, or None where it says nothing."""
    seen = fall.fall_sigma_px_per_file_s2 / fall.fall_px_per_file_s2
    arc_m = ruler.m_per_px * fall.fall_px_per_file_s2 * fall.duration_file_s**2 / 8
    sigma = 0.5 * math.hypot(seen, settings.body_model_m / arc_m)
    return sigma if sigma <= settings.coarsest_witness else None


def _disagree(logs: Floats, sigmas: Floats, settings: GravityClockSettings) -> bool:
    apart = np.abs(logs[:, None] - logs[None, :])
    doubt = np.hypot(sigmas[:, None], sigmas[None, :])
    far = (apart > settings.disagreement_sigmas * doubt) & (
        apart > math.log(settings.disagreement_ratio)
    )
    return bool(far.any())
