"""Coarse look at the feet: when each is clearly off its own floor, and when both are.

Works on pose alone and on any clock: nothing here assumes how fast the file plays. The times
are good to a few hundredths of a second; the pixels near each event give the real ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.contacts.floor import CoarseSettings, FootHeights, list_runs
from measure.types import FEET, Floats, Foot, Landmark, PoseTrack

NEAR_EDGE_S = 0.16
"""A lift that begins or ends within this time of a flight's edge belongs to that edge: the foot
took part in it. Farther out the foot was free already, or only seems so."""


@dataclass(frozen=True, slots=True)
class Lift:
    """One foot off the ground, in rows of the pose track; None where the clip cuts it off."""

    foot: Foot
    first_row: int
    last_row: int
    starts_in_clip: bool
    ends_in_clip: bool


@dataclass(frozen=True, slots=True)
class CoarseFlight:
    """Both feet off the ground, with the fall of the hips as witness."""

    first_row: int
    last_row: int
    start_s: float
    end_s: float
    """Times of the two rows, in the clock of the times given."""
    fall_px_per_s2: float
    """Downward acceleration of the hips, in the clock of the times given."""
    fall_sigma_px_per_s2: float
    residual_px: float
    """How far the hips stray from a parabola."""
    apex_s: float
    """When the hips are at the top of that parabola, in the clock of the times given."""
    lifts: tuple[Lift, Lift]
    """The left and the right foot's lift that overlap here."""

    @property
    def is_jump(self) -> bool:
        """Tell a jump, whose top lies well inside, from a drop off a box, which starts there."""
        return 0.2 < (self.apex_s - self.start_s) / (self.end_s - self.start_s) < 0.8


def find_lifts(heights: FootHeights, *, settings: CoarseSettings | None = None) -> list[Lift]:
    """Find every stretch in which a foot is clear of its floor.

    Parameters
    ----------
    heights : FootHeights
    settings : CoarseSettings, optional

    Returns
    -------
    list of Lift
        In order of their first row.
    """
    settings = settings or CoarseSettings()
    lifts = []
    for foot in FEET:
        up = heights.of(foot) > settings.clear_of_floor_statures
        rows = up.shape[0]
        runs = list_runs(up, gap=settings.gap_bridged_strides * heights.stride)
        stood_from = [0, *(last + 1 for _, last in runs)]
        stands_until = [*(first for first, _ in runs[1:]), rows]
        for run, came, goes in zip(runs, stood_from, stands_until, strict=False):
            first, last = _sharpened(heights, foot, run, (came, goes), settings=settings)
            lifts.append(Lift(foot, first, last, first > 0, last < rows - 1))
    return sorted(lifts, key=lambda lift: (lift.first_row, lift.foot))


def _sharpened(
    heights: FootHeights, foot: Foot, run: tuple[int, int], neighbours: tuple[int, int], *,
    settings: CoarseSettings,
) -> tuple[int, int]:  # fmt: skip
    """Move a lift's ends to where the foot leaves and meets the level it stands on just there.

    The floor between two rests is a guess; the foot's own level right beside the lift is none. It
    ends where the foot's lifts before and after begin (rows ``neighbours``).
    """
    height = heights.of(foot)
    first, last = run
    clear = settings.clear_of_floor_statures
    reach = settings.level_strides * heights.stride
    middle = (first + last) // 2
    after = height[last + 1 : min(last + 1 + reach, neighbours[1])]
    before = height[max(first - reach, neighbours[0]) : first]
    near_end, near_start = max(middle, last - reach), min(middle, first + reach)
    if after.size >= 3:
        down = np.flatnonzero(height[near_end : last + 1] < float(np.median(after)) + clear)
        last = near_end + int(down[0]) - 1 if down.size else last
    if before.size >= 3:
        down = np.flatnonzero(height[first : near_start + 1] < float(np.median(before)) + clear)
        first = first + int(down[-1]) + 1 if down.size else first
    return min(first, middle), max(last, middle)


def find_flights(
    lifts: list[Lift],
    track: PoseTrack,
    time_s: Floats,
    *,
    stride: int = 1,
    settings: CoarseSettings | None = None,
) -> list[CoarseFlight]:
    """Find the stretches in which both feet are up and the hips fall as a thrown body does.

    Parameters
    ----------
    lifts : list of Lift
    track : PoseTrack
    time_s : ndarray of shape (T,)
        Times of the track's rows on any clock.
    stride : int
        From ``FootHeights``.
    settings : CoarseSettings, optional

    Returns
    -------
    list of CoarseFlight
    """
    settings = settings or CoarseSettings()
    flights = []
    for left in (lift for lift in lifts if lift.foot == "left"):
        for right in (lift for lift in lifts if lift.foot == "right"):
            first = max(left.first_row, right.first_row)
            last = min(left.last_row, right.last_row)
            if last - first + 1 < settings.shortest_flight_strides * stride:
                continue
            fall = _fit_fall(track, time_s, first=first, last=last)
            if fall is not None:
                ends_s = (float(time_s[first]), float(time_s[last]))
                flights.append(CoarseFlight(first, last, *ends_s, *fall, lifts=(left, right)))
    return sorted(flights, key=lambda flight: flight.first_row)


def _fit_fall(
    track: PoseTrack, time_s: Floats, *, first: int, last: int
) -> tuple[float, float, float, float] | None:
    """Fall of the mid-hip, its sigma, residual and apex, or None where it does not fall."""
    margin = (last - first + 1) // 8
    rows = np.arange(first + margin, last - margin + 1)
    hips = track.px[rows][:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP], 1].mean(axis=1)
    seen = np.isfinite(hips)
    if seen.sum() < 4:
        rows = np.arange(max(0, first - 1), min(track.px.shape[0], last + 2))
        hips = track.px[rows][:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP], 1].mean(axis=1)
        seen = np.isfinite(hips)
        if seen.sum() < 4:
            return None
    middle_s = float(time_s[rows[seen]].mean())
    times = time_s[rows[seen]] - middle_s
    basis = np.stack([np.ones_like(times), times, times**2 / 2], axis=1)
    solution, *_ = np.linalg.lstsq(basis, hips[seen], rcond=None)
    residual = hips[seen] - basis @ solution
    noise_px = max(float(np.sqrt((residual**2).sum() / max(seen.sum() - 3, 1))), 0.3)
    covariance = np.linalg.inv(basis.T @ basis) * noise_px**2
    fall, sigma = float(solution[2]), float(np.sqrt(covariance[2, 2]))
    if fall <= 2 * sigma:
        return None
    return fall, sigma, noise_px, middle_s - float(solution[1]) / fall
