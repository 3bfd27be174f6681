"""Pencil physics of a jump: what a time in the air says about height, speed and reactive strength.

Sigmas come from the instants alone; they hold while the instants err independently.
"""

from __future__ import annotations

import math

from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.values import Estimate
from measure.types import Flight, Instant


def flight_time(flight: Flight) -> Estimate:
    """Give the time in the air, seconds.

    Parameters
    ----------
    flight : Flight

    Returns
    -------
    Estimate
        Seconds.

    Raises
    ------
    ValueError
        When the landing is not after the take-off.
    """
    time_s = flight.landing.time_s - flight.take_off.time_s
    if not time_s > 0:
        raise ValueError(f"flight: expected landing after take-off, got {time_s} s between them")
    return Estimate(time_s, math.hypot(flight.take_off.sigma_s, flight.landing.sigma_s))


def height_from_flight(flight: Flight, *, gravity_mps2: float = STANDARD_GRAVITY_MPS2) -> Estimate:
    """Rise of the centre of mass from its time in the air, metres: h = g T^2 / 8.

    Parameters
    ----------
    flight : Flight
    gravity_mps2 : float
        Free-fall acceleration where the clip was filmed.

    Returns
    -------
    Estimate
        Metres.

    Raises
    ------
    ValueError
        When the landing is not after the take-off.

    Notes
    -----
    *When this is wrong*: it reads high by about half of any drop in posture between take-off and
    landing (`height_from_flight_with_drop`); 2.5 cm over 27 people in Yamashita, Murata and Inaba
    2020, doi:10.3390/app10030776.
    """
    time = flight_time(flight)
    return Estimate(
        value=gravity_mps2 * time.value**2 / 8,
        sigma=height_sensitivity_mps(time.value, gravity_mps2=gravity_mps2) * time.sigma,
    )


def height_sensitivity_mps(
    flight_time_s: float, *, gravity_mps2: float = STANDARD_GRAVITY_MPS2
) -> float:
    """Metres of height per second of flight time: dh/dT = g T / 4.

    Parameters
    ----------
    flight_time_s : float
    gravity_mps2 : float

    Returns
    -------
    float
        Metres per second; 1.2258 at half a second, so that a millisecond is 1.2 mm.
    """
    return gravity_mps2 * flight_time_s / 4


def take_off_speed(flight: Flight, *, gravity_mps2: float = STANDARD_GRAVITY_MPS2) -> Estimate:
    """Upward speed of the centre of mass at take-off: v = g T / 2.

    Parameters
    ----------
    flight : Flight
    gravity_mps2 : float

    Returns
    -------
    Estimate
        Metres per second. Reads high where the landing posture is lower, as the height does.
    """
    time = flight_time(flight)
    return Estimate(gravity_mps2 * time.value / 2, gravity_mps2 / 2 * time.sigma)


def height_from_flight_with_drop(height_m: float, *, drop_m: float) -> float:
    """Say what g T^2 / 8 reads when the centre of mass is lower at landing than at take-off.

    Parameters
    ----------
    height_m : float
        True rise from take-off to the top.
    drop_m : float
        How much lower it is at touchdown; negative for higher.

    Returns
    -------
    float
        Metres: ((sqrt(h) + sqrt(h + d)) / 2)^2, near h + d/2.

    Raises
    ------
    ValueError
        For a landing above the top.
    """
    if height_m < 0 or height_m + drop_m < 0:
        raise ValueError(f"drop_m: expected a top above both levels, got {height_m}, {drop_m}")
    return ((math.sqrt(height_m) + math.sqrt(height_m + drop_m)) / 2) ** 2


def frame_counting_sigma_s(capture_rate_hz: float) -> float:
    """Standard uncertainty of a duration counted in whole frames: 1 / (rate * sqrt(6)).

    Parameters
    ----------
    capture_rate_hz : float
        Pictures per real second.

    Returns
    -------
    float
        Seconds. Both edges fall anywhere within a frame, so the error is triangular.

    Raises
    ------
    ValueError
        For a rate that is not positive.
    """
    if not capture_rate_hz > 0:
        raise ValueError(f"capture_rate_hz: expected > 0, got {capture_rate_hz}")
    return 1 / (capture_rate_hz * math.sqrt(6))


def contact_time(touchdown: Instant, flight: Flight) -> Estimate:
    """Give the time on the ground from a touchdown to the take-off of the flight after it.

    Parameters
    ----------
    touchdown : Instant
        First foot down.
    flight : Flight

    Returns
    -------
    Estimate
        Seconds.

    Raises
    ------
    ValueError
        When the touchdown is not before the take-off.
    """
    time_s = flight.take_off.time_s - touchdown.time_s
    if not time_s > 0:
        raise ValueError(f"touchdown: expected before the take-off, got {time_s} s between them")
    return Estimate(time_s, math.hypot(touchdown.sigma_s, flight.take_off.sigma_s))


def reactive_strength(
    touchdown: Instant, flight: Flight, *, gravity_mps2: float = STANDARD_GRAVITY_MPS2
) -> Estimate:
    """Reactive strength index: height over contact time, metres per second.

    Parameters
    ----------
    touchdown : Instant
        First foot down before this flight.
    flight : Flight
    gravity_mps2 : float

    Returns
    -------
    Estimate
        Metres per second: (g T^2 / 8) / contact time.

    Raises
    ------
    ValueError
        When the instants are not in order.

    Notes
    -----
    A late take-off shortens the flight *and* lengthens the contact, so its error counts twice;
    sigma takes that in. `flight_contact_ratio` is another number, 1.6 to 1.9 times larger:
    never compare the two.
    """
    in_air_s = flight_time(flight).value
    on_ground_s = contact_time(touchdown, flight).value
    value = height_from_flight(flight, gravity_mps2=gravity_mps2).value / on_ground_s
    relative = _relative_sigma(touchdown, flight, per_flight=2 / in_air_s)
    return Estimate(value, value * relative)


def flight_contact_ratio(touchdown: Instant, flight: Flight) -> Estimate:
    """Flight time over contact time, without a unit; not the reactive strength index.

    Parameters
    ----------
    touchdown : Instant
        First foot down before this flight.
    flight : Flight

    Returns
    -------
    Estimate
        A ratio.

    Raises
    ------
    ValueError
        When the instants are not in order.
    """
    in_air_s = flight_time(flight).value
    value = in_air_s / contact_time(touchdown, flight).value
    relative = _relative_sigma(touchdown, flight, per_flight=1 / in_air_s)
    return Estimate(value, value * relative)


def _relative_sigma(touchdown: Instant, flight: Flight, *, per_flight: float) -> float:
    """Relative sigma of T^n over contact time; ``per_flight`` is n / T."""
    per_contact = 1 / contact_time(touchdown, flight).value
    return math.hypot(
        per_flight * flight.landing.sigma_s,
        (per_flight + per_contact) * flight.take_off.sigma_s,
        per_contact * touchdown.sigma_s,
    )
