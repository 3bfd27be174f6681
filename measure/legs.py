"""Put left and right legs back where the pose model swapped them.

Seen from the side the legs cross and hide each other, and the model gives the left leg's name to
the right one for a while. A leg cannot jump: of all ways to name the legs through time the one
with the smoothest paths is taken, held to the model's own naming as long as nothing speaks
against it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from measure.types import FOOT_LANDMARKS, FootLandmarks, PoseTrack

__all__ = ["LegSettings", "restore_legs"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LegSettings:
    """What a jump of the legs and a disagreement with the model weigh against each other."""

    together: float = 0.15
    """Share of each point in the weight of a jump: the ten points of two legs move together and
    count as one and a half."""
    noise_legs: float = 0.01
    """Part of the leg's length by which a point is always free to jump."""
    disagreement_per_s: float = 40.0
    """What naming the legs against the model weighs, for each second."""
    gap_s: float = 0.25
    """After a longer gap the legs are named afresh."""


def restore_legs(
    track: PoseTrack, *, time_s: Floats | None = None, settings: LegSettings | None = None
) -> PoseTrack:
    """Swap the legs back in the rows where the model exchanged them.

    Parameters
    ----------
    track : PoseTrack
        As the pose model left it, before any smoothing (which would blend the swaps).
    time_s : ndarray of shape (T,), optional
        Real time of the rows. Without it file time is used.
    settings : LegSettings, optional
        Weights.

    Returns
    -------
    PoseTrack
        Hip, knee, ankle, heel and toe of both legs exchanged where they had been swapped, in
        ``px``, ``visibility`` and ``world_m``.

    Notes
    -----
    A Viterbi path over two successive namings (second order), whose cost is how far each point
    lies from the straight continuation of its last two rows. Wrong where the model swaps the
    legs for most of the clip: its majority is believed. Where the legs coincide the naming stays
    the model's.
    """
    settings = settings or LegSettings()
    time_s = track.file_time_s if time_s is None else time_s
    legs_px = np.stack([track.px[:, _points(leg)] for leg in FOOT_LANDMARKS.values()], axis=1)
    seen = np.flatnonzero(np.isfinite(legs_px).all(axis=(1, 2, 3)))
    swapped = np.zeros(track.file_time_s.size, dtype=np.bool_)
    for part in np.split(seen, 1 + np.flatnonzero(np.diff(time_s[seen]) > settings.gap_s)):
        if part.size > 2:
            swapped[part] = _swapped(legs_px[part], time_s[part], settings)
    return _exchange(track, swapped)


def _points(leg: FootLandmarks) -> list[int]:
    return [leg.hip, leg.knee, leg.ankle, leg.heel, leg.toe]


def _swapped(legs_px: Floats, time_s: Floats, settings: LegSettings) -> NDArray[np.bool_]:
    """Rows to exchange; ``legs_px`` has shape (T, 2, points, 2) with T at least 3."""
    costs = _jump_costs(legs_px, time_s, settings)
    disagreement = settings.disagreement_per_s * np.gradient(time_s)
    path = _cheapest_path(costs, disagreement)
    # Naming everything the other way round is as smooth: the model's majority says which.
    return ~path if path.mean() > 0.5 else path


def _jump_costs(legs_px: Floats, time_s: Floats, settings: LegSettings) -> Floats:
    """Cost of each row after its two predecessors, for their namings, shape (T - 2, 2, 2, 2)."""
    named = np.stack([legs_px, legs_px[:, ::-1]], axis=1)
    ratio = (np.diff(time_s)[1:] / np.diff(time_s)[:-1])[:, None, None, None]
    jumps_px = np.empty((legs_px.shape[0] - 2, 2, 2, 2, *legs_px.shape[1:3]))
    for a, b, c in np.ndindex(2, 2, 2):
        first, second, third = named[:-2, a], named[1:-1, b], named[2:, c]
        straight_on = second + (second - first) * ratio
        jumps_px[:, a, b, c] = np.hypot(*np.moveaxis(third - straight_on, -1, 0))
    hip_to_ankle = np.linalg.norm(legs_px[:, :, 0] - legs_px[:, :, 2], axis=-1)
    noise_px = settings.noise_legs * float(np.percentile(hip_to_ankle, 90))
    # The usual jump is that of the best naming of each row: swaps do not count as noise.
    usual_px = float(np.median(jumps_px.mean(axis=(-2, -1)).min(axis=(1, 2, 3))))
    # A long-tailed cost: one wild point, or one hard landing, decides nothing.
    weight = np.log1p(0.5 * (jumps_px / max(usual_px + noise_px, 1e-9)) ** 2)
    return np.asarray(settings.together * weight.sum(axis=(-2, -1)))


def _cheapest_path(costs: Floats, disagreement: Floats) -> NDArray[np.bool_]:
    """Second-order Viterbi over two namings: True where the legs are named against the model."""
    rows = disagreement.size
    total = np.zeros((2, 2))
    total[1, :] += disagreement[0]
    total[:, 1] += disagreement[1]
    came_from = np.empty((rows, 2, 2), dtype=np.int64)
    for k in range(2, rows):
        candidates = total[:, :, None] + costs[k - 2]
        came_from[k] = candidates.argmin(axis=0)
        total = candidates.min(axis=0)
        total[:, 1] += disagreement[k]
    path = np.empty(rows, dtype=np.bool_)
    before, last = np.unravel_index(int(total.argmin()), (2, 2))
    for k in range(rows - 1, 1, -1):
        path[k] = last == 1
        before, last = came_from[k, before, last], before
    path[1], path[0] = last == 1, before == 1
    return path


def _exchange(track: PoseTrack, swapped: NDArray[np.bool_]) -> PoseTrack:
    left, right = (_points(leg) for leg in FOOT_LANDMARKS.values())
    order = np.arange(track.px.shape[1])
    order[left], order[right] = right, left
    return replace(
        track,
        px=np.where(swapped[:, None, None], track.px[:, order], track.px),
        visibility=np.where(swapped[:, None], track.visibility[:, order], track.visibility),
        world_m=np.where(swapped[:, None, None], track.world_m[:, order], track.world_m),
    )
