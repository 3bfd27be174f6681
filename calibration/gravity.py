"""Free-fall acceleration where the clip was filmed."""

from __future__ import annotations

import math

STANDARD_GRAVITY_MPS2 = 9.80665
"""Exact by definition: 3rd General Conference on Weights and Measures, 1901."""

# WGS 84 ellipsoid: gravity at the equator, Somigliana's constant, eccentricity squared,
# semi-major axis, flattening and the ratio m = omega^2 a^2 b / GM.
EQUATOR_MPS2 = 9.7803253359
SOMIGLIANA = 0.00193185265241
ECCENTRICITY_SQUARED = 0.00669437999013
SEMI_MAJOR_M = 6378137.0
FLATTENING = 1 / 298.257223563
ROTATION_RATIO = 0.00344978650684


def gravity_at(*, latitude_deg: float, height_m: float = 0.0) -> float:
    """Normal gravity on the WGS 84 ellipsoid.

    Parameters
    ----------
    latitude_deg : float
        Geodetic latitude, -90 to 90.
    height_m : float
        Height above the ellipsoid; good up to aeroplanes.

    Returns
    -------
    float
        Metres per second squared.

    Raises
    ------
    ValueError
        For a latitude that does not exist.

    Notes
    -----
    Somigliana's closed formula and its second-order continuation upwards (NIMA TR8350.2).
    Between equator and pole it moves a jump height by 0.5 %. Local rock moves it by less than
    0.01 %.
    """
    if not -90.0 <= latitude_deg <= 90.0:
        raise ValueError(f"latitude_deg: expected -90 to 90, got {latitude_deg}")
    sine_squared = math.sin(math.radians(latitude_deg)) ** 2
    at_sea_level_mps2 = (
        EQUATOR_MPS2
        * (1 + SOMIGLIANA * sine_squared)
        / math.sqrt(1 - ECCENTRICITY_SQUARED * sine_squared)
    )
    slope = 1 + FLATTENING + ROTATION_RATIO - 2 * FLATTENING * sine_squared
    relative_height = height_m / SEMI_MAJOR_M
    return at_sea_level_mps2 * (1 - 2 * slope * relative_height + 3 * relative_height**2)
