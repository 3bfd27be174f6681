"""Where the legs are in every frame of a clip, between the frames that poses were read in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.types import Floats, PoseTrack

__all__ = ["FootPaths", "interpolate_feet"]


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
