"""The first movement out of a still set position, from how much of the picture changes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.values import Refused
from measure.types import Instant

__all__ = ["START_RULE", "find_first_movement"]

Floats = NDArray[np.float64]

START_RULE = "first_movement"
"""Stored with every start: the first movement of any part of the body out of the set position.
Comparable with itself only."""
LOUD_SHARE = 0.04
"""Of the largest change: a movement that has certainly begun."""
FLAT_SHARE = 0.02
"""Of the steepest growth on the way there: slower growth is no movement yet. A key frame of the
encoder is a step with a flat part after it, so it ends the way back."""
NOISE_SPREADS = 3.0
"""Of the growth long before: less is noise."""
UNDER_WAY_SHARE = 0.4
RISE_S = 0.3
"""From the loud change to `UNDER_WAY_SHARE` of the largest."""
STILL_S = 0.25
"""How long the set position must have been still."""
LOUDEST_STILL_SHARE = 0.4
"""A set position that changes by this share of the loud change is not still."""
SIGMA_S = 0.012
"""Of the rule itself: bodies do not begin to move alike."""
SIGMA_FRAMES = 0.25
QUICK_RISE_S = 0.06
GENTLE_SHARE = 0.5
"""A gentle start, as of a shuffle, is read late: by about this share of what its rise takes
longer than a sprint's."""


def find_first_movement(time_s: Floats, change: Floats, *, about_s: float) -> Instant | Refused:
    """Find when a still body begins to move.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
        Real seconds.
    change : ndarray of shape (T,)
        How much each picture differs from the set position, any unit, 0 for not at all.
    about_s : float
        When the run is well under way.

    Returns
    -------
    Instant or Refused
        Refused where the set position is not in the clip or not still.

    Notes
    -----
    The area that has left its place grows about as the square of the time since the first
    movement; the root of the change is drawn back along a straight line to the last quiet picture's
    level. *Wrong* where an athlete sways into her start: the sway counts as movement.
    """
    interval_s = float(np.median(np.diff(time_s)))
    run = time_s <= about_s
    if run.sum() < 5 or time_s[0] > about_s - STILL_S:
        return _refused("The clip begins when the athlete is already moving.")
    quiet, loud = _quiet_and_loud(change[run])
    before = (time_s >= time_s[quiet] - STILL_S) & (time_s <= time_s[quiet])
    if time_s[quiet] - time_s[0] < STILL_S - interval_s or before.sum() < 3:
        return _refused("The athlete is not seen still before the run.")
    if np.ptp(change[before]) > LOUDEST_STILL_SHARE * (change[loud] - change[quiet]):
        return _refused("The athlete moves or sways before the run begins.")
    if not _rises_at_once(time_s[loud:], change[loud:]):
        return _refused("The athlete moves or sways before the run begins.")
    first_s, scatter_s = _drawn_back(time_s[quiet : loud + 1], change[quiet : loud + 1])
    first_s = float(np.clip(first_s, time_s[quiet] - interval_s, time_s[loud]))
    growth = (change[loud] - change[quiet]) / (time_s[loud] - time_s[quiet])
    noise_s = float(np.std(change[before])) / growth
    frame_s = SIGMA_FRAMES * interval_s
    gentle_s = GENTLE_SHARE * max(0.0, float(time_s[loud] - time_s[quiet]) - QUICK_RISE_S)
    sigma_s = float(np.linalg.norm([SIGMA_S, frame_s, scatter_s, noise_s, gentle_s]))
    return Instant(first_s, sigma_s)


def _quiet_and_loud(change: Floats) -> tuple[int, int]:
    """Last picture before the growth, and the first that has certainly moved."""
    quietest = float(np.percentile(change, 10))
    # The rise that lasts: what fades again before it was noise, or a fidget.
    level = quietest + LOUD_SHARE * (change.max() - quietest)
    loud = min(int(np.flatnonzero(change <= level)[-1]) + 1, change.size - 1)
    growth = np.diff(change[: loud + 1])
    if growth.size == 0:
        return 0, 0
    quiet = loud - 1
    noise = 1.4826 * float(np.median(np.abs(growth[: max(1, loud // 2)])))
    flat = max(FLAT_SHARE * float(growth[-4:].max()), NOISE_SPREADS * noise)
    while quiet > 0 and growth[quiet - 1] > flat:
        quiet -= 1
    return quiet, loud


def _rises_at_once(time_s: Floats, change: Floats) -> bool:
    """Whether the change goes on to most of a body soon; a sway or a moved camera does not."""
    under_way = change > UNDER_WAY_SHARE * change.max()
    return bool(time_s[int(np.argmax(under_way))] - time_s[0] < RISE_S)


def _drawn_back(time_s: Floats, change: Floats) -> tuple[float, float]:
    """Where the root of the growth meets zero, and how well it is a straight line."""
    root = np.sqrt(np.maximum(change[1:] - change[0], 0))
    if root.size < 2:
        return float(time_s.mean()), float(np.ptp(time_s)) / np.sqrt(12)
    slope, level = np.polyfit(time_s[1:], root, 1, w=root**0.5)
    if slope <= 0:
        return float(time_s[0]), float(time_s[1] - time_s[0])
    rest = root - (slope * time_s[1:] + level)
    return float(-level / slope), float(np.std(rest) / slope)


def _refused(reason: str) -> Refused:
    return Refused(
        "start_s", reason, "Film half a second of the still set position before each run."
    )
