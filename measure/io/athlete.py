"""One pass over a clip that finds the filmed athlete and keeps to her."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass, field, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from measure.errors import NothingToMeasure
from measure.io.ahead import read_ahead
from measure.io.bodies import Body, Seen
from measure.io.borrowed import BorrowedSettings, drop_borrowed_legs
from measure.io.choose import ChooseSettings, choose_athlete
from measure.io.follow import Follower, FollowSettings
from measure.io.pose import PoseModel
from measure.io.read import Clip, Frame
from measure.types import FOOT_LANDMARKS, Landmark, PoseTrack

__all__ = ["POSE_RATE_HZ", "AthleteSettings", "FollowedAthlete", "bridge_rows", "follow_athlete"]

Floats = NDArray[np.float64]

_FEET = [point for leg in FOOT_LANDMARKS.values() for point in (leg.heel, leg.toe)]
_HEELS = [Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL]
POSE_RATE_HZ = 60.0
"""Poses per second of file time between which bodies are bridged by straight lines."""
_READ_AHEAD, _READ_AHEAD_BYTES = 24, 40e6
"""Pictures that wait for the pose model while others are decoded: so many, of so much memory. With
fewer a core idles while networks are loaded, and where poses take longer than pictures or less."""
_TOGETHER_S = 0.02
"""Poses nearer in time than this are read two at once: nobody's path bends much in between."""
_CALM_S = 0.3
"""Who has been slow for so long is looked at less often."""
_CALM_RADII_PER_S, _CALM_RATE_HZ = 0.3, 30.0
"""Slower than this is slow, and so many poses per second are enough. Whoever starts to move does so
at some 10 m/s2, which bends the straight line between two poses by 1 mm; with fewer poses the
moment at which somebody stands steady gets lost."""
_ROUNDING = 0.1
"""So that a file at 119.88 pictures per second counts as one at 120."""


@dataclass(frozen=True, slots=True)
class AthleteSettings:
    """How a clip is looked through for its athlete."""

    pose_rate_hz: float = POSE_RATE_HZ
    """Poses per second of file time, at least; pictures in between are passed over."""
    cut_margin_px: float = 2.0
    """A foot or head nearer to the picture's edge than this counts as cut off."""
    follow: FollowSettings = field(default_factory=FollowSettings)
    choose: ChooseSettings = field(default_factory=ChooseSettings)
    borrowed: BorrowedSettings = field(default_factory=BorrowedSettings)


@dataclass(frozen=True, slots=True)
class FollowedAthlete:
    """The athlete's poses over the clip, and what was seen on the way. Nothing is smoothed."""

    track: PoseTrack
    """One row per looked-at frame; NaN where she was covered or out of the picture, and for a leg
    that the model had put on somebody else's."""
    most_people: int
    """People seen at one moment, at most."""
    seen_share: float
    """Part of the looked-at frames that show her."""
    feet_cut_share: float
    """Part of her poses with a foot beyond the picture's edge."""
    head_cut_share: float
    """Part of her poses with the head beyond the picture's edge."""
    height_px: float
    """Nose to heel when most upright (90th percentile of the vertical distance)."""
    passed_over: NDArray[np.bool_] | None = None
    """Rows on the straight line between those about them, since nobody moved; None: not known."""


def follow_athlete(
    clip: Clip,
    model: PoseModel,
    *,
    settings: AthleteSettings | None = None,
    progress: Callable[[float], None] | None = None,
    each_frame: Callable[[Frame], None] | None = None,
    each_look: Callable[[Sequence[Body]], None] | None = None,
) -> FollowedAthlete:
    """Find the filmed athlete and read her pose through the clip, in one streamed pass.

    Parameters
    ----------
    clip : Clip
        Decoded once, from its start to its end.
    model : PoseModel
        Any back end.
    settings : AthleteSettings, optional
        Rates and tolerances.
    progress : callable, optional
        Told the part done, 0 to 1.
    each_frame : callable, optional
        Handed every frame in order, also those without a pose, so that other measurements of
        the pictures share the decoding.
    each_look : callable, optional
        Handed everybody who is followed, after each look.

    Returns
    -------
    FollowedAthlete

    Raises
    ------
    NothingToMeasure
        When nobody can be followed anywhere in the clip.

    Notes
    -----
    Wrong when somebody else is larger, livelier and longer in the picture than the athlete, or
    when a person of her size steps in at her place while she is covered.
    """
    settings = settings or AthleteSettings()
    told = progress or (lambda part: None)
    interval_s, count = clip.stamps.usual_interval_s, clip.stamps.frame_count
    stride = _stride(interval_s, settings.pose_rate_hz)
    together = 2 if stride * interval_s < _TOGETHER_S else 1
    calm = _Calm(stride * interval_s, settings)
    of_track = _Rows()
    size_px = (clip.stream.width_px, clip.stream.height_px)
    at_most = min(_READ_AHEAD, max(1, round(_READ_AHEAD_BYTES / (1.5 * size_px[0] * size_px[1]))))
    pictures = read_ahead(_every(clip.frames(), stride, each_frame), at_most=at_most)
    with ThreadPoolExecutor(together) as pool, closing(pictures):
        follower = Follower(model, settings=settings.follow, side_by_side=pool.map)
        every = 1
        while block := of_track.next_looks(pictures, every=every, count=together):
            follower.take_together(block)
            if each_look is not None:
                each_look(follower.followed)
            every = calm.every(follower.speed_radii_per_s(_CALM_S))
            told(min((block[-1].index + 1) / count, 1.0))
    told(1.0)
    rows = choose_athlete(follower.bodies(), width_px=size_px[0], settings=settings.choose)
    if not rows:
        raise NothingToMeasure(
            "Nobody can be followed in this clip.",
            "Film one athlete, the whole body in the picture, in daylight or a well-lit room.",
        )
    hers = {id(row) for row in rows}
    others = [body for body in follower.bodies() if id(body.rows[0]) not in hers]
    rows = drop_borrowed_legs(rows, others, settings=settings.borrowed)
    track = _track(rows, of_track, size_px)
    described = _described(track, follower.most_at_once, settings.cut_margin_px)
    return replace(described, passed_over=np.array(of_track.passed_over))


def _every(
    frames: Iterator[Frame], stride: int, each_frame: Callable[[Frame], None] | None
) -> Iterator[Frame]:
    """Every so manieth frame, after all of them were shown."""
    for frame in frames:
        if each_frame is not None:
            each_frame(frame)
        if frame.index % stride == 0:
            yield frame


@dataclass
class _Rows:
    """The frames that get a row of the track."""

    index: list[int] = field(default_factory=list)
    file_time_s: list[float] = field(default_factory=list)
    passed_over: list[bool] = field(default_factory=list)
    """Not looked at: bridged by a straight line between the rows about it."""

    def next_looks(self, pictures: Iterator[Frame], *, every: int, count: int) -> list[Frame]:
        """Take the next pictures to look at, every so manieth; the clip's last one too."""
        looks: list[Frame] = []
        frame = None
        for number, frame in enumerate(islice(pictures, every * count), start=1):
            self.index.append(frame.index)
            self.file_time_s.append(frame.file_time_s)
            self.passed_over.append(number % every > 0)
            if number % every == 0:
                looks.append(frame)
        if frame is not None and self.passed_over[-1]:
            looks.append(frame)
            self.passed_over[-1] = False
        return looks


@dataclass(frozen=True)
class _Calm:
    """Every how manieth row is looked at while nobody moves fast."""

    row_s: float
    settings: AthleteSettings

    def every(self, speed_radii_per_s: float) -> int:
        """Give 1 for every row, also where a pose in every frame was asked for."""
        is_calm = speed_radii_per_s < _CALM_RADII_PER_S
        if is_calm and math.isfinite(self.settings.pose_rate_hz):
            return _stride(self.row_s, _CALM_RATE_HZ)
        return 1


def _stride(interval_s: float, pose_rate_hz: float) -> int:
    """Every how manieth frame gets a pose: never fewer than ``pose_rate_hz`` per second."""
    return max(1, math.floor(1 / interval_s / pose_rate_hz + _ROUNDING))


def _track(rows: Sequence[Seen], of_track: _Rows, size_px: tuple[int, int]) -> PoseTrack:
    """Rows for all frames looked at, empty where the athlete was not seen."""
    count = len(of_track.index)
    place = {index: k for k, index in enumerate(of_track.index)}
    px = np.full((count, len(Landmark), 2), np.nan)
    world_m = np.full((count, len(Landmark), 3), np.nan)
    visibility = np.zeros((count, len(Landmark)))
    for row in rows:
        k = place[row.frame_index]
        px[k], world_m[k], visibility[k] = row.pose.px, row.pose.world_m, row.pose.visibility
    time_s, passed_over = np.array(of_track.file_time_s), np.array(of_track.passed_over)
    for values in (px, world_m, visibility):
        bridge_rows(values, time_s, passed_over=passed_over)
    return PoseTrack(
        frame_index=np.array(of_track.index, dtype=np.int64), file_time_s=time_s,
        px=px, visibility=visibility, world_m=world_m,
        width_px=size_px[0], height_px=size_px[1],
    )  # fmt: skip


def bridge_rows(values: Floats, time_s: Floats, *, passed_over: NDArray[np.bool_]) -> None:
    """Put rows that were passed over on the straight line between those about them, in place.

    Parameters
    ----------
    values : ndarray of shape (T, ...)
    time_s : ndarray of shape (T,)
    passed_over : ndarray of shape (T,)
        Neither the first row nor the last one.
    """
    looked_at, passed = np.flatnonzero(~passed_over), np.flatnonzero(passed_over)
    next_one = np.searchsorted(looked_at, passed)
    before, after = looked_at[next_one - 1], looked_at[next_one]
    share = (time_s[passed] - time_s[before]) / (time_s[after] - time_s[before])
    share = share.reshape(-1, *[1] * (values.ndim - 1))
    values[passed] = (1 - share) * values[before] + share * values[after]


def _described(track: PoseTrack, most_people: int, margin_px: float) -> FollowedAthlete:
    seen = np.isfinite(track.px[:, 0, 0])
    px = track.px[seen]
    standing_px = px[:, _HEELS, 1].mean(axis=1) - px[:, Landmark.NOSE, 1]
    return FollowedAthlete(
        track=track,
        most_people=most_people,
        seen_share=float(seen.mean()),
        feet_cut_share=_cut_share(px[:, _FEET], track, margin_px),
        head_cut_share=_cut_share(px[:, [Landmark.NOSE]], track, margin_px),
        height_px=float(np.nanpercentile(standing_px, 90)),
    )


def _cut_share(px: Floats, track: PoseTrack, margin_px: float) -> float:
    """Part of the rows in which any of the points lies outside the picture."""
    limits = np.array([track.width_px, track.height_px]) - margin_px
    outside = (px < margin_px) | (px > limits)
    return float(outside.any(axis=(1, 2)).mean())
