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
"""Of the steepest growth on the way there: slower growth is no movement."""
KEY_FRAME_SHARE = 0.7
"""A key frame of the encoder changes the picture all at once, this share of a step in one frame,
and then not at all; a foot that sets off and pauses takes longer."""
LONGEST_PAUSE_S = 0.15
"""What moved, and then nothing for so long, was a fidget."""
NOISE_SPREADS = 3.0
"""Of the growth long before: less is noise."""
UNDER_WAY_SHARE = 0.4
RISE_S = 0.3
"""From the loud change to `UNDER_WAY_SHARE` of the largest."""
STILL_S = 0.25
"""How long the set position must have been still."""
LOUDEST_STILL_SHARE = 0.4
"""A set position that changes by this share of the loud change is not still."""
SIGMA_S = 0.009
"""Of the rule itself: a part of the body that sets off at 3 to 15 m/s² has moved by 5 mm, which
is when a person calls it moving, after 26 to 58 ms, and the picture shows neither moment."""
MOVED_M = 0.005
SEEN_PX = 0.5
"""An edge that has moved by less stays within the encoder's noise."""
USUAL_MPS2, SPREAD_SHARE = 7.0, 0.4
"""Of a part that sets off, and how much the time to move a little varies with it (3 to 15 m/s²)."""
SIGMA_FRAMES = 0.25
QUICK_RISE_S = 0.06
GENTLE_SHARE = 0.25
"""A gentle start is read worse, by about this share of what its rise takes longer."""


def find_first_movement(
    time_s: Floats, change: Floats, *, about_s: float, px_per_m: float = 100.0
) -> Instant | Refused:
    """Find when a still body begins to move.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
        Real seconds.
    change : ndarray of shape (T,)
        How much each picture differs from the set position, any unit, 0 for not at all.
    about_s : float
        When the run is well under way.
    px_per_m : float
        Of the picture at the runner: with fewer than 100 a movement of 5 mm shows late; it is drawn
        back by as much as a usual start takes from there to half a pixel.

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
    quiet, loud = _quiet_and_loud(time_s[run], change[run])
    before = (time_s >= time_s[quiet] - STILL_S) & (time_s <= time_s[quiet])
    if time_s[quiet] - time_s[0] < STILL_S - interval_s or before.sum() < 3:
        return _refused("The athlete is not seen still before the run.")
    if np.ptp(change[before]) > LOUDEST_STILL_SHARE * (change[loud] - change[quiet]):
        return _refused("The athlete moves or sways before the run begins.")
    if not _rises_at_once(time_s[loud:], change[loud:]):
        return _refused("The athlete moves or sways before the run begins.")
    until = _first_pause(change, quiet, loud) + 1
    first_s, scatter_s = _drawn_back(time_s[quiet:until], change[quiet:until])
    first_s = float(np.clip(first_s, time_s[quiet] - interval_s, time_s[loud]))
    growth = (change[loud] - change[quiet]) / (time_s[loud] - time_s[quiet])
    noise_s = float(np.std(change[before])) / growth
    frame_s = SIGMA_FRAMES * interval_s
    gentle_s = GENTLE_SHARE * max(0.0, float(time_s[loud] - time_s[quiet]) - QUICK_RISE_S)
    late_s = _late_s(px_per_m)
    sigma_s = float(np.linalg.norm(
        [SIGMA_S, frame_s, scatter_s, noise_s, gentle_s, SPREAD_SHARE * late_s]
    ))  # fmt: skip
    return Instant(first_s - late_s, sigma_s)


def _late_s(px_per_m: float) -> float:
    """How much later than 5 mm half a pixel is passed."""
    seen_s, moved_s = np.sqrt(2 * np.array([SEEN_PX / px_per_m, MOVED_M]) / USUAL_MPS2)
    return max(0.0, float(seen_s - moved_s))


def _quiet_and_loud(time_s: Floats, change: Floats) -> tuple[int, int]:
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
    while quiet > 0:
        while quiet > 0 and growth[quiet - 1] > flat:
            quiet -= 1
        pause = quiet
        while pause > 0 and growth[pause - 1] <= flat:
            pause -= 1
        if pause == 0 or not _goes_on(time_s, change - quietest, pause, quiet):
            break
        quiet = pause
    return quiet, loud


def _goes_on(time_s: Floats, change: Floats, pause: int, quiet: int) -> bool:
    """Whether what came before a pause is the same movement, and no key frame and no fidget."""
    at_once = change[pause] - change[pause - 1] > KEY_FRAME_SHARE * change[pause]
    return not at_once and bool(time_s[quiet] - time_s[pause] < LONGEST_PAUSE_S)


def _first_pause(change: Floats, quiet: int, loud: int) -> int:
    """End of the first uninterrupted rise: a line is drawn back along it."""
    growth = np.diff(change[quiet : loud + 1])
    slow = np.flatnonzero(growth < FLAT_SHARE * growth.max())
    slow = slow[slow >= 2]
    return loud if slow.size == 0 else quiet + int(slow[0])


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
