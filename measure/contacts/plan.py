"""Which foot events to look at closely, and which pictures and pixels that needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from measure.contacts.coarse import FEET, CoarseFlight, Flags, FootHeights
from measure.types import FOOT_LANDMARKS, Floats, Foot, PoseTrack

EventKind = Literal["take_off", "landing"]
Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class FootPaths:
    """Leg landmarks at every frame of the clip, bridged by straight lines in time."""

    frame_time_s: Floats
    """Shape (N,)."""
    px: Floats
    """Shape (N, 33, 2)."""
    stature_px: float
    standing_m: float
    """The athlete's stature, or the usual one where it is not known."""

    @property
    def px_per_m(self) -> float:
        """Pixels per metre, good enough for priors and windows."""
        return self.stature_px / self.standing_m


@dataclass(frozen=True, slots=True)
class EventPlan:
    """One foot leaving or meeting the ground: where and when to look."""

    kind: EventKind
    foot: Foot
    flight: int
    """Number of the flight that this event begins or ends."""
    coarse_s: float
    speed_mps: float
    """Speed at which the body leaves or meets the ground, from the coarse flight."""
    frames: Rows
    """Frames in which the foot is followed, in time order."""
    reference: int
    """The frame, among ``frames``, in which the foot surely stands."""
    empty_frames: Rows
    """Frames that may show the ground behind the foot."""
    box: tuple[int, int, int, int]
    """Left, top, right, bottom of the pixels needed, in the upright picture."""


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """Times in seconds, lengths in metres."""

    reach_s: float = 0.11
    """Pictures up to this far from the coarse event are looked at."""
    planted_before_s: float = 0.055
    """So long before the coarse take-off the foot surely stands."""
    planted_after_s: float = 0.050
    slow_rate_margin_s: float = 0.030
    """Added to one picture interval: coarse events of slow clips are coarser."""
    side_m: float = 0.42
    above_m: float = 0.60
    below_m: float = 0.14
    empty_reach_s: float = 1.5
    empty_frames: int = 20
    near_coarse_s: float = 0.16
    """A foot that leaves or lands within this time of the flight's edge takes part in it."""


def interpolate_feet(
    track: PoseTrack, time_s: Floats, frame_time_s: Floats, *, stature_px: float,
    standing_m: float,
) -> FootPaths:  # fmt: skip
    """Put the landmarks on every frame's own time.

    Parameters
    ----------
    track : PoseTrack
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    frame_time_s : ndarray of shape (N,)
        Real time of every frame.
    stature_px, standing_m : float
        The athlete's height in pixels and metres.

    Returns
    -------
    FootPaths
    """
    px = np.empty((frame_time_s.shape[0], track.px.shape[1], 2))
    for landmark in range(track.px.shape[1]):
        for axis in range(2):
            values = track.px[:, landmark, axis]
            seen = np.isfinite(values)
            px[:, landmark, axis] = (
                np.interp(frame_time_s, time_s[seen], values[seen]) if seen.any() else np.nan
            )
    return FootPaths(frame_time_s, px, stature_px, standing_m)


def plan_events(
    flights: Sequence[CoarseFlight], heights: FootHeights, paths: FootPaths, *,
    time_s: Floats, distinct: Flags, picture_px: tuple[int, int],
    settings: PlanSettings | None = None,
) -> list[EventPlan]:  # fmt: skip
    """Plan a close look at every foot that leaves last or lands first in each flight.

    Parameters
    ----------
    flights : list of CoarseFlight
    heights : FootHeights
    paths : FootPaths
    time_s : ndarray of shape (T,)
        Real time of the pose rows that flights and heights refer to.
    distinct : ndarray of shape (N,)
        Which frames show a picture of their own.
    picture_px : tuple
        Width and height of the upright picture.
    settings : PlanSettings, optional

    Returns
    -------
    list of EventPlan
    """
    settings = settings or PlanSettings()
    plans = []
    for number, flight in enumerate(flights):
        edges: tuple[tuple[EventKind, int], ...] = (
            ("take_off", flight.first_row), ("landing", flight.last_row),
        )  # fmt: skip
        rise_s = time_s[flight.last_row] - time_s[flight.first_row] + 0.035
        speed_mps = float(np.clip(9.80665 * rise_s / 2, 0.7, 3.6))
        for kind, row in edges:
            for foot in _feet_taking_part(flight, heights, time_s, kind=kind, settings=settings):
                plan = _plan_one(
                    paths, kind=kind, foot=foot, coarse_s=float(time_s[row]),
                    distinct=distinct, picture_px=picture_px, settings=settings,
                )  # fmt: skip
                if plan is not None:
                    plans.append(replace(plan, flight=number, speed_mps=speed_mps))
    return plans


def _feet_taking_part(
    flight: CoarseFlight, heights: FootHeights, time_s: Floats, *,
    kind: EventKind, settings: PlanSettings,
) -> list[Foot]:  # fmt: skip
    """Feet that stand just outside the flight: low above their own floor, or leaving near it."""
    row = flight.first_row if kind == "take_off" else flight.last_row
    away = -1 if kind == "take_off" else 1
    since_s = away * (time_s - time_s[row])
    near = (since_s > 0.005) & (since_s < 0.10)
    if not near.any():
        return []
    feet: list[Foot] = []
    lows = {foot: float(np.median(heights.of(foot)[near])) for foot in FEET}
    for lift, foot in zip(flight.lifts, FEET, strict=True):
        inside = lift.starts_in_clip if kind == "take_off" else lift.ends_in_clip
        edge = lift.first_row if kind == "take_off" else lift.last_row
        leaves_near = abs(time_s[edge] - time_s[row]) < settings.near_coarse_s
        if (inside and leaves_near) or lows[foot] < 0.035:
            feet.append(foot)
    return feet


def _plan_one(
    paths: FootPaths, *, kind: EventKind, foot: Foot, coarse_s: float, distinct: Flags,
    picture_px: tuple[int, int], settings: PlanSettings,
) -> EventPlan | None:  # fmt: skip
    times = paths.frame_time_s
    interval_s = float(np.median(np.diff(times[distinct])))
    reach_s = max(settings.reach_s, 3.2 * interval_s)
    frames = np.flatnonzero((np.abs(times - coarse_s) <= reach_s + 1e-9) & distinct)
    cut_off = times[0] > coarse_s - 0.6 * reach_s or times[-1] < coarse_s + 0.6 * reach_s
    if frames.size < 5 or cut_off:
        return None
    margin_s = interval_s + settings.slow_rate_margin_s
    planted_s = (
        coarse_s - max(settings.planted_before_s, margin_s)
        if kind == "take_off"
        else coarse_s + max(settings.planted_after_s, 1.3 * interval_s)
    )
    reference = int(frames[np.argmin(np.abs(times[frames] - planted_s))])
    box = _box_about(paths, foot=foot, frame=reference, picture_px=picture_px, settings=settings)
    if box is None:
        return None
    near = np.flatnonzero(np.abs(times - coarse_s) <= settings.empty_reach_s)
    chosen = near[np.linspace(0, near.size - 1, min(near.size, 90)).astype(int)]
    return EventPlan(kind, foot, 0, coarse_s, 0.0, frames, reference, chosen, box)


def _box_about(
    paths: FootPaths, *, foot: Foot, frame: int, picture_px: tuple[int, int],
    settings: PlanSettings,
) -> tuple[int, int, int, int] | None:  # fmt: skip
    """Pixels about the standing toe; None where the foot stands outside the picture."""
    toe = paths.px[frame, FOOT_LANDMARKS[foot].toe]
    width, height = picture_px
    if not (0 <= toe[0] < width and 0 <= toe[1] < height):
        return None
    unit = paths.px_per_m
    left, right = toe[0] - settings.side_m * unit, toe[0] + settings.side_m * unit
    top, bottom = toe[1] - settings.above_m * unit, toe[1] + settings.below_m * unit
    return (
        int(max(0, left)), int(max(0, top)), int(min(width, right)), int(min(height, bottom))
    )  # fmt: skip
