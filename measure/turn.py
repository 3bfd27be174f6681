"""How far the body turned in the air, and whether turns alternate."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.heading import HEADING_CUES, mean_heading, measure_headings
from measure.types import Estimate, Flight, Floats, PoseTrack, Refused

__all__ = ["TurnSettings", "check_alternation", "measure_turn"]

FEET_CUE = HEADING_CUES.index("feet")


@dataclass(frozen=True, slots=True)
class TurnSettings:
    """Where the headings before and after are read, and the doubt that always stays."""

    longest_window_s: float = 0.4
    clear_of_events_s: float = 0.15
    """Just before take-off and after landing the body is still turning."""
    square_sigma_deg: float = 2.5
    """Doubt of a turn between two headings towards or from the camera ..."""
    depth_sigma_deg: float = 5.5
    """... and what comes on top where the body stands side-on, for the model guesses depth. Both
    learned from drawn figures."""
    most_apart_deg: float = 60.0
    """Between feet and the rest: nobody twists farther. In a crouch the model may take the left of
    a trunk for its right, and never a heel for a toe: then the feet tell alone ..."""
    feet_alone_deg: float = 20.0
    """... with so much more doubt."""


def measure_turn(
    track: PoseTrack, *, time_s: Floats, flight: Flight,
    free_s: tuple[float, float] = (-np.inf, np.inf), settings: TurnSettings | None = None,
) -> Estimate | Refused:  # fmt: skip
    """Turn of the body from before the take-off to after the landing.

    Parameters
    ----------
    track : PoseTrack
        Cleaned; its 3-D points are used.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    flight : Flight
    free_s : tuple of float
        From the landing before to the take-off after; nothing beyond is looked at.
    settings : TurnSettings, optional

    Returns
    -------
    Estimate or Refused
        Degrees, positive to the athlete's left.

    Notes
    -----
    Shoulders, hips, ears and feet each give a turn; their mean is taken and their disagreement
    carried. Whole turns are counted along the flight. *When this is wrong*: an athlete who winds
    up before the jump or goes on turning on the ground has that counted in part.
    """
    settings = settings or TurnSettings()
    headings = measure_headings(track)
    before, after = _windows(time_s, flight, free_s, settings)
    cues_deg = _turn_of_cues(headings[before], headings[after])
    seen = np.isfinite(cues_deg)
    along_deg = _turn_along(headings, before, after)
    if seen.sum() < 2 or along_deg is None:
        return Refused(
            "turn_deg", "The body is not seen both before and after this flight.",
            "Keep the whole body in the picture before the take-off and after the landing.",
        )  # fmt: skip
    side_on = max(_side_on(headings[before]), _side_on(headings[after]))
    sigma_deg = float(np.hypot(settings.square_sigma_deg, settings.depth_sigma_deg * side_on))
    feet_deg = cues_deg[FEET_CUE]
    apart_deg = (np.nanmedian(cues_deg[:FEET_CUE]) - feet_deg + 180) % 360 - 180
    if abs(apart_deg) > settings.most_apart_deg:  # no whole turns either: the trunk tells of them
        return Estimate(float(feet_deg), float(np.hypot(sigma_deg, settings.feet_alone_deg)))
    cues_deg = cues_deg[seen]
    cues_deg += 360 * np.round((along_deg - cues_deg) / 360)
    spread_deg = float(cues_deg.std(ddof=1)) / float(np.sqrt(cues_deg.size))
    return Estimate(float(np.median(cues_deg)), float(np.hypot(sigma_deg, spread_deg)))


def check_alternation(turns_deg: Sequence[float], *, smallest_deg: float = 30.0) -> Refused | None:
    """Tell where turns that should go left and right in turn do not.

    Parameters
    ----------
    turns_deg : sequence of float
        In order of time, positive to the athlete's left.
    smallest_deg : float
        Less than this is no turn to either side.

    Returns
    -------
    Refused or None
        None while they alternate.
    """
    sides = [0 if abs(turn) < smallest_deg else (1 if turn > 0 else -1) for turn in turns_deg]
    for number, (before, now) in enumerate(itertools.pairwise(sides), start=2):
        if before * now > 0:
            side = "left" if now > 0 else "right"
            return Refused(
                "alternation", f"Jumps {number - 1} and {number} both turn to the {side}.",
                "Turn to one side, then back to the other.",
            )  # fmt: skip
    return None


def _windows(
    time_s: Floats, flight: Flight, free_s: tuple[float, float], settings: TurnSettings
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows on the ground before and after; the rows at the events where there is no room."""
    take_off_s, landing_s = flight.take_off.time_s, flight.landing.time_s
    clear_s, length_s = settings.clear_of_events_s, settings.longest_window_s
    first_s = max(free_s[0], take_off_s - clear_s - length_s)
    last_s = min(free_s[1], landing_s + clear_s + length_s)
    before = np.flatnonzero((time_s >= first_s) & (time_s <= take_off_s - clear_s))
    after = np.flatnonzero((time_s >= landing_s + clear_s) & (time_s <= last_s))
    at_take_off = np.flatnonzero((time_s >= first_s) & (time_s <= take_off_s))
    at_landing = np.flatnonzero((time_s >= landing_s) & (time_s <= last_s))
    return (before if before.size else at_take_off[-1:]), (after if after.size else at_landing[:1])


def _side_on(headings: NDArray[np.complex128]) -> float:
    """How much the body stands across the line of sight, 0 to 1."""
    mean_deg = float(mean_heading(headings.reshape(-1)))
    return abs(float(np.sin(np.radians(mean_deg)))) if np.isfinite(mean_deg) else 1.0


def _turn_of_cues(
    before: NDArray[np.complex128], after: NDArray[np.complex128]
) -> Floats:
    from_deg = mean_heading(np.moveaxis(before, 0, -1))
    to_deg = mean_heading(np.moveaxis(after, 0, -1))
    turn_deg: Floats = (to_deg - from_deg + 180) % 360 - 180
    return turn_deg


def _turn_along(
    headings: NDArray[np.complex128], before: NDArray[np.int64], after: NDArray[np.int64]
) -> float | None:
    """Turn followed row by row through the flight, degrees, so that whole turns count."""
    if not (before.size and after.size):
        return None
    along = mean_heading(headings[before[0] : after[-1] + 1])
    seen = np.isfinite(along)
    if seen.sum() < 2:
        return None
    path = np.degrees(np.unwrap(np.radians(along[seen])))
    rows = np.flatnonzero(seen) + before[0]
    return float(np.median(path[rows >= after[0]]) - np.median(path[rows <= before[-1]])) if (
        (rows >= after[0]).any() and (rows <= before[-1]).any()
    ) else None
