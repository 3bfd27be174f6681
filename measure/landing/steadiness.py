"""How long after a landing the body is steady: a kinematic measure, from the hips alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.landing.scene import Landing
from measure.types import Estimate, Floats, Landmark, Refused

__all__ = ["SteadinessSettings", "measure_time_to_steady"]


@dataclass(frozen=True, slots=True)
class SteadinessSettings:
    """What steady means, and how the hips' speed is read."""

    speed_mps: float = 0.10
    steady_for_s: float = 0.5
    half_width_s: float = 0.1
    """Speeds are slopes of straight lines over this much before and after ..."""
    restless_half_width_s: float = 0.2
    """... and over this much where the poses are restless."""
    restless_statures_per_s: float = 0.5
    """The hips are a body's width apart whatever she does: where a tenth of the rows moves one
    hip against the other faster than this, the poses are restless. Standing on one leg seen
    from the side gave 0.9, everything else 0.25 at most, in drawn figures."""
    speed_sigma_share: float = 0.3
    """Doubt of a speed near the threshold: the pose's own unrest, and movement along the line
    of sight that a picture does not show."""
    time_sigma_s: float = 0.02
    one_leg_sigma_s: float = 0.10
    """On one leg the body sways to all sides, and a picture shows two of three."""


def measure_time_to_steady(
    landing: Landing, *, settings: SteadinessSettings | None = None
) -> Estimate | Refused:
    """Time from first contact until the middle of the hips stays slow.

    Parameters
    ----------
    landing : Landing
        With a scale.
    settings : SteadinessSettings, optional

    Returns
    -------
    Estimate or Refused
        Seconds until the speed stays below 0.10 m/s for half a second.

    Notes
    -----
    This is not the stabilisation time of a force plate, and the two must not be compared. *When
    this is wrong*: movement along the line of sight is not seen, and a phone held in the hand
    moves the hips in the picture. The doubt comes from asking the same with the threshold
    lower and higher by that doubt.
    """
    settings = settings or SteadinessSettings()
    if landing.scale is None:
        return Refused(
            "time_to_steady_s", "Without metres per pixel the speed of the hips is not known.",
            "Give the athlete's stature.",
        )  # fmt: skip
    speed_mps = _speed_px_per_s(landing, settings) * landing.scale.m_per_px
    share = settings.speed_sigma_share
    times_s = [
        _steady_after_s(landing, speed_mps, threshold, settings)
        for threshold in np.array([1 - share, 1.0, 1 + share]) * settings.speed_mps
    ]
    strict_s, time_s, loose_s = times_s
    if time_s is None:
        return Refused(
            "time_to_steady_s",
            "The hips do not stay slower than 0.10 m/s for half a second before the next jump or "
            "the end of the clip.",
            "Hold the landing for two seconds, and stand the phone on something.",
        )  # fmt: skip
    latest_s = max(time_s, landing.until_s - landing.landing_s - settings.steady_for_s)
    around_s = (latest_s if strict_s is None else strict_s, time_s if loose_s is None else loose_s)
    spread_s = max(abs(other - time_s) for other in around_s)
    on_one = len(landing.landed_feet) == 1
    least_s = settings.one_leg_sigma_s if on_one else settings.time_sigma_s
    return Estimate(time_s, float(np.hypot(least_s, spread_s)))


def _speed_px_per_s(landing: Landing, settings: SteadinessSettings) -> Floats:
    """Speed of the mid-hip from local straight lines; NaN where fewer than four rows carry it."""
    hips_px, time_s = landing.hips_px(), landing.time_s
    is_restless = _unrest_statures_per_s(landing) > settings.restless_statures_per_s
    half_width_s = settings.restless_half_width_s if is_restless else settings.half_width_s
    speed = np.full(time_s.shape[0], np.nan)
    for row in landing.rows(landing.landing_s, landing.until_s):
        offset = (time_s - time_s[row]) / half_width_s
        near = np.flatnonzero((np.abs(offset) < 1) & np.isfinite(hips_px[:, 0]))
        if near.size < 4:
            continue
        weight = (1 - np.abs(offset[near]) ** 3) ** 1.5
        slope = np.polyfit(offset[near], hips_px[near], 1, w=weight)[0] / half_width_s
        speed[row] = np.hypot(*slope)
    return speed


def _unrest_statures_per_s(landing: Landing) -> float:
    """How fast the hips move against each other in a tenth of the rows once she has landed."""
    rows = landing.rows(landing.landing_s + 0.2, landing.until_s)
    if rows.size < 3:
        return 0.0
    hips = landing.track.px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]]
    apart_px = hips[:, 0] - hips[:, 1]
    speed_px_per_s = np.hypot(*np.gradient(apart_px, landing.time_s, axis=0).T)[rows]
    seen = speed_px_per_s[np.isfinite(speed_px_per_s)]
    return float(np.percentile(seen, 90)) / landing.stature_px if seen.size else 0.0


def _steady_after_s(
    landing: Landing, speed_mps: Floats, threshold_mps: float, settings: SteadinessSettings
) -> float | None:
    """Start of the first long enough slow stretch, seconds after first contact."""
    rows = landing.rows(landing.landing_s, landing.until_s)
    for first, last in _slow_runs(speed_mps[rows] < threshold_mps):
        start_s, end_s = landing.time_s[rows[first]], landing.time_s[rows[last]]
        # Rows stand for the time around them: half a row at each end counts.
        row_s = float(np.median(np.diff(landing.time_s)))
        if end_s - start_s + row_s >= settings.steady_for_s:
            return float(start_s - landing.landing_s)
    return None


def _slow_runs(is_slow: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_slow.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
