"""What a file's timestamps say by themselves: how many frames, how even, how many missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

EVEN_SHARE = 0.75
"""A file counts as constant-rate when this share of its intervals is the usual one."""
EVEN_TOLERANCE = 0.1
"""An interval is the usual one within this part of it (or within one tick of the file's clock)."""
GAP_RATIO = 1.5
"""In an uneven file a gap is an interval this many times longer than all its neighbours."""
NEIGHBOURS = 3


@dataclass(frozen=True, slots=True)
class StampFacts:
    """The timestamps of a clip's frames, in presentation order."""

    file_time_s: Floats
    """Seconds of file time since the first frame, shape (frame_count,), strictly increasing."""
    median_interval_s: float
    usual_interval_s: float
    """Mean of the ordinary intervals; unlike the median it is not rounded to the file's ticks."""
    constant_rate: bool
    missing_frame_count: int
    """Frames that the gaps between timestamps leave room for."""
    repeated_stamp_count: int
    """Frames dropped because another one carries the same timestamp."""
    tick_s: float
    """Step of the file's clock."""

    @property
    def frame_count(self) -> int:
        """Number of frames with a timestamp of their own."""
        return int(self.file_time_s.shape[0])


def read_stamp_facts(ticks: NDArray[np.int64], *, tick_s: float) -> StampFacts:
    """Judge presentation timestamps.

    Parameters
    ----------
    ticks : ndarray of shape (N,)
        Presentation timestamps of at least two frames in ticks of the file's clock, any order.
    tick_s : float
        Length of a tick in seconds.

    Returns
    -------
    StampFacts

    Notes
    -----
    In a constant-rate file an interval of n usual ones leaves room for n - 1 missing frames. In
    an uneven one only an interval that towers over its neighbours does, so two gaps close
    together can hide each other there. A dropped picture that the timestamps do not show is not
    seen here: only motion can tell.
    """
    distinct = np.unique(ticks)
    if distinct.shape[0] < 2:
        raise ValueError(f"ticks: expected at least 2 distinct, got {distinct.shape[0]}")
    intervals_s = np.diff(distinct) * tick_s
    median_s = float(np.median(intervals_s))
    ordinary = np.abs(intervals_s - median_s) <= max(0.5 * median_s, tick_s)
    usual_s = float(intervals_s[ordinary].mean())
    tolerance_s = max(EVEN_TOLERANCE * usual_s, 1.01 * tick_s)
    even = bool(np.mean(np.abs(intervals_s - usual_s) <= tolerance_s) >= EVEN_SHARE)
    return StampFacts(
        file_time_s=(distinct - distinct[0]) * tick_s,
        median_interval_s=median_s,
        usual_interval_s=usual_s,
        constant_rate=even,
        missing_frame_count=_missing(intervals_s, usual_s if even else None),
        repeated_stamp_count=int(ticks.shape[0] - distinct.shape[0]),
        tick_s=tick_s,
    )


def _missing(intervals_s: Floats, usual_s: float | None) -> int:
    if usual_s is not None:
        return int(np.sum(np.maximum(np.rint(intervals_s / usual_s) - 1, 0)))
    padded = np.pad(intervals_s, NEIGHBOURS, mode="reflect") if intervals_s.size > NEIGHBOURS else (
        np.pad(intervals_s, NEIGHBOURS, mode="edge"))  # fmt: skip
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * NEIGHBOURS + 1)
    around = np.delete(windows, NEIGHBOURS, axis=1)
    ratio = intervals_s / around.max(axis=1)
    return int(np.sum(np.where(ratio > GAP_RATIO, np.rint(ratio) - 1, 0)))
