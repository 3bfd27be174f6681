"""Quiet standing in a clip: where the centre of mass is when an athlete simply stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.body import joint_flexion_deg
from measure.contacts.floor import stature_in_px
from measure.types import FOOT_LANDMARKS, Floats, Landmark, PoseTrack

Flags = NDArray[np.bool_]
_HEELS = (Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL)
_TOES = (Landmark.LEFT_TOE, Landmark.RIGHT_TOE)


@dataclass(frozen=True, slots=True)
class StandingSettings:
    """What counts as standing quietly; lengths in statures (height in the picture)."""

    shortest_s: float = 0.3
    drift_statures_per_s: float = 0.03
    """The centre of mass moves slower than this, up, down and sideways."""
    sway_statures: float = 0.006
    """Standard deviation of its height within the shortest time."""
    tall_share: float = 0.96
    """From nose to heels at least this share of the clip's tall posture."""
    knee_flexion_deg: float = 25.0
    foot_lift_statures: float = 0.06
    """Toes farther apart in height than this: one foot is up. Seen from the side the farther
    foot stands higher in the picture too, by up to 0.04."""


@dataclass(frozen=True, slots=True)
class Standing:
    """One stretch of quiet standing."""

    start_s: float
    end_s: float
    centre_px: float
    """Median y of the centre of mass, pixels from the top."""
    centre_sigma_px: float
    """Scatter of its mean; the body model's own error comes on top."""
    toe_px: float
    """Median y of the lower toe, to know the ground that is stood on."""


def find_standing(
    track: PoseTrack, *, time_s: Floats, centre_px: Floats,
    settings: StandingSettings | None = None,
) -> tuple[Standing, ...]:  # fmt: skip
    """Find every stretch of quiet, upright standing.

    Parameters
    ----------
    track : PoseTrack
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    centre_px : ndarray of shape (T, 2)
        Centre of mass, as from `centre_of_mass_px`.
    settings : StandingSettings, optional

    Returns
    -------
    tuple of Standing
        In order of time; empty where the athlete never stands still.

    Notes
    -----
    *When this is wrong*: somebody who waits with bent knees and hips, and never stands tall in
    the whole clip, seen from the front. Standing on a box is standing: compare ``toe_px``.
    """
    settings = settings or StandingSettings()
    if not _is_seen(track).any():
        return ()
    upright = _is_upright(track, settings)
    path = centre_px / stature_in_px(track)
    calm = [
        row and _is_calm(time_s, path, at=k, settings=settings) for k, row in enumerate(upright)
    ]
    found = []
    for first, last in _runs(np.array(calm, dtype=np.bool_)):
        if time_s[last] - time_s[first] >= settings.shortest_s:
            found.append(_standing(track, time_s, centre_px[:, 1], rows=slice(first, last + 1)))
    return tuple(found)


def lower_toe_px(track: PoseTrack) -> Floats:
    """Give y of the lower toe, pixels from the top.

    Parameters
    ----------
    track : PoseTrack

    Returns
    -------
    ndarray of shape (T,)
        NaN where a toe is not seen.
    """
    toes: Floats = track.px[:, list(_TOES), 1].max(axis=1)
    return toes


def _standing(track: PoseTrack, time_s: Floats, level_px: Floats, *, rows: slice) -> Standing:
    levels = level_px[rows]
    return Standing(
        start_s=float(time_s[rows][0]),
        end_s=float(time_s[rows][-1]),
        centre_px=float(np.median(levels)),
        # Sway and pose errors last for about a third of a second: the rows are no free draws.
        centre_sigma_px=float(levels.std() / max((np.ptp(time_s[rows]) / 0.3) ** 0.5, 1.0)),
        toe_px=float(np.median(lower_toe_px(track)[rows])),
    )


def _is_seen(track: PoseTrack) -> Flags:
    """Nose and both heels: what the athlete's height in the picture is read from."""
    seen: Flags = np.isfinite(track.px[:, [Landmark.NOSE, *_HEELS], 1]).all(axis=1)
    return seen


def _is_upright(track: PoseTrack, settings: StandingSettings) -> Flags:
    """Tall from nose to heels, on both feet, knees near straight; False where not seen."""
    stature_px = stature_in_px(track)
    heels, toes = (track.px[:, list(marks), 1] for marks in (_HEELS, _TOES))
    height_px = heels.max(axis=1) - track.px[:, Landmark.NOSE, 1]
    # The nose stands at 0.905 of stature (see stature_in_px).
    tall = height_px > settings.tall_share * 0.905 * stature_px
    both_down = np.ptp(toes, axis=1) < settings.foot_lift_statures * stature_px
    bent = [
        joint_flexion_deg(
            proximal=track.px[:, leg.hip], joint=track.px[:, leg.knee],
            distal=track.px[:, leg.ankle],
        )
        for leg in FOOT_LANDMARKS.values()
    ]  # fmt: skip
    upright: Flags = tall & both_down & (np.max(bent, axis=0) < settings.knee_flexion_deg)
    return upright


def _is_calm(time_s: Floats, path: Floats, *, at: int, settings: StandingSettings) -> bool:
    """Slow and steady over the shortest time about one row; the path is in statures."""
    half_s = settings.shortest_s / 2
    first, after = np.searchsorted(time_s, [time_s[at] - half_s, time_s[at] + half_s])
    times, places = time_s[first:after] - time_s[at], path[first:after]
    if times.size < 4 or not np.isfinite(places).all():
        return False
    slope, level = np.polyfit(times, places, 1)
    sway = (places - level - times[:, None] * slope)[:, 1].std()
    slow = np.hypot(*slope) < settings.drift_statures_per_s
    return bool(slow and sway < settings.sway_statures)


def _runs(flags: Flags) -> list[tuple[int, int]]:
    """First and last row of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
