"""The floor under each foot, and how high the foot is above it; on any clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from measure.types import FEET, FOOT_LANDMARKS, Floats, Foot, Landmark, PoseTrack

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class CoarseSettings:
    """Lengths in statures (the athlete's height in the picture), so that children count too."""

    clear_of_floor_statures: float = 0.020
    """A foot whose lowest point is higher than this above its own floor is in the air."""
    slow_share: float = 0.12
    """A foot slower than this share of its own fast movements may be standing."""
    side_step_statures: float = 0.012
    """A stretch that a foot leaves downwards by more than this was no standing."""
    stride_statures: float = 0.03
    """Speeds are taken over as many pictures as a fast foot needs for this way, so that a
    240-per-second clip is judged like one of 60, whatever its clock says."""
    level_strides: int = 6
    """So long beside a lift the foot's own level is taken."""
    above_other_statures: float = 0.10
    """A foot that rests this much higher than the other, standing one is held up: perspective
    and stance explain less."""
    stay_strides: int = 12
    """A foot that rests longer than this stands, even where it is left downwards."""
    most_missed_rests: int = 12
    """Rests that a shaky pose hid and that show by the foot sinking below the floor."""
    gap_bridged_strides: int = 1
    """Shorter returns to the floor within a lift are noise of the pose."""
    shortest_flight_strides: int = 2


@dataclass(frozen=True, slots=True)
class FootHeights:
    """Heights of each foot's lowest point above its own floor, in statures, shape (T,)."""

    left: Floats
    right: Floats
    stature_px: float
    stride: int
    """Pictures over which a fast foot moves visibly; 1 at 60 per second and slower."""

    def of(self, foot: Foot) -> Floats:
        """Give one foot's heights."""
        return self.left if foot == "left" else self.right


def stature_in_px(track: PoseTrack) -> float:
    """Give the athlete's height in the picture while she stands tall.

    Parameters
    ----------
    track : PoseTrack

    Returns
    -------
    float
        Pixels from sole to crown: the upper end of the nose-to-heel heights over 0.905, the
        share of stature at which the nose stands (measured on drawn figures, no source).
    """
    heels = track.px[:, [Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL], 1]
    seen = np.isfinite(heels).all(axis=1) & np.isfinite(track.px[:, Landmark.NOSE, 1])
    if not seen.any():
        raise ValueError("track: expected at least one row with nose and heels")
    heights = heels[seen].max(axis=1) - track.px[seen, Landmark.NOSE, 1]
    return float(np.percentile(heights, 90) / 0.905)


def measure_foot_heights(
    track: PoseTrack, *, settings: CoarseSettings | None = None
) -> FootHeights:
    """Give each foot's height above the floor it stands on.

    The floor is where the foot rests: slow stretches that it does not leave downwards. Between
    them the floor is a straight line in time, so an athlete may walk towards the camera or
    drop from a box.

    Parameters
    ----------
    track : PoseTrack
    settings : CoarseSettings, optional

    Returns
    -------
    FootHeights
    """
    settings = settings or CoarseSettings()
    stature_px = stature_in_px(track)
    points = {foot: _foot_point(track, foot=foot, stature_px=stature_px) for foot in FEET}
    stride = max(_stride(*point, settings=settings) for point in points.values())
    width = 2 * stride + 1
    lows = {foot: _middles(point[0], width) for foot, point in points.items()}
    rests = {
        foot: _rests(lows[foot], _middles(point[1], width), stride=stride, settings=settings)
        for foot, point in points.items()
    }
    heights = {}
    for foot, other in zip(FEET, reversed(FEET), strict=True):
        standing = [
            rest
            for rest in rests[foot]
            if _is_standing(
                rest, lows[foot], lows[other], rests[other], stride=stride, settings=settings
            )
        ]
        heights[foot] = lows[foot] - _floor(
            lows[foot], standing, fallback=lows[other], settings=settings
        )
    return FootHeights(heights["left"], heights["right"], stature_px, stride)


def _middles(values: Floats, width: int) -> Floats:
    middles: Floats = median_filter(values, width, mode="nearest")
    return middles


def _foot_point(track: PoseTrack, *, foot: Foot, stature_px: float) -> tuple[Floats, Floats]:
    """Lowest point upwards and toe sideways, statures, gaps bridged."""
    marks = FOOT_LANDMARKS[foot]
    heel, toe = track.px[:, marks.heel], track.px[:, marks.toe]
    low = _bridged(-np.maximum(heel[:, 1], toe[:, 1])) / stature_px
    return low, _bridged(toe[:, 0]) / stature_px


def _bridged(values: Floats) -> Floats:
    rows = np.arange(values.shape[0])
    seen = np.isfinite(values)
    if not seen.any():
        raise ValueError("track: a foot is never seen")
    bridged: Floats = np.interp(rows, rows[seen], values[seen])
    return bridged


def _stride(low: Floats, sideways: Floats, *, settings: CoarseSettings) -> int:
    """Pictures that a fast foot needs for a visible way."""
    # A low hop never goes that far: then a good part of all the way there is will do.
    enough = min(2 * settings.stride_statures, 0.4 * max(float(np.ptp(low)), 1e-3))
    for stride in range(1, 17):
        way = _fast(_speed(low, sideways, stride=stride)) * 2 * stride
        if way > enough:
            return stride
    return 16


def _fast(speed: Floats) -> float:
    """A speed that the foot reaches in its fast movements, however long it stands about.

    The few fastest pictures may be wild; a fixed share of all would be slow in a long clip.
    """
    passed_over = int(np.clip(0.03 * speed.shape[0], 3, 8))
    return float(np.sort(speed)[-min(passed_over, speed.shape[0])])


def _speed(low: Floats, sideways: Floats, *, stride: int) -> Floats:
    """Speed in statures per picture by central differences over two strides."""
    rows = np.arange(low.shape[0])
    ahead = np.minimum(rows + stride, rows[-1])
    behind = np.maximum(rows - stride, 0)
    way = np.hypot(low[ahead] - low[behind], sideways[ahead] - sideways[behind])
    speed: Floats = way / np.maximum(ahead - behind, 1)
    return speed


def _rests(
    low: Floats, sideways: Floats, *, stride: int, settings: CoarseSettings
) -> list[tuple[int, int]]:
    """Stretches in which the foot is slow."""
    speed = _speed(low, sideways, stride=stride)
    slow = max(settings.slow_share * _fast(speed), 1e-6)
    return list_runs(speed < slow, gap=0)


def _is_standing(
    rest: tuple[int, int], low: Floats, other_low: Floats, other_rests: list[tuple[int, int]], *,
    stride: int, settings: CoarseSettings,
) -> bool:  # fmt: skip
    """Tell a foot that stands from one that hovers at the top of its way or is held up.

    A foot that stands is left upwards, or stays for long (on a box, which is left downwards; or
    where the athlete came to, away from the camera, as the other foot did too); and it is not far
    above another one that rests at the same time.
    """
    above = _above_other(rest, low, other_low, other_rests)
    if above is not None and above > settings.above_other_statures:
        return False
    by = settings.side_step_statures
    if not _left_downwards(low, rest, stride=stride, by=by):
        return True
    stays = rest[1] - rest[0] + 1 > settings.stay_strides * stride
    if above is None or above < by:
        return stays
    return stays and not _left_downwards(low, rest, stride=stride, by=by, beside=other_low)


def _above_other(
    rest: tuple[int, int], low: Floats, other_low: Floats, other_rests: list[tuple[int, int]]
) -> float | None:
    """Height above the other foot while both rest; None where that is less than half the time."""
    first, last = rest
    shared = [(max(first, a), min(last, b)) for a, b in other_rests if a <= last and b >= first]
    rows = [row for a, b in shared for row in range(a, b + 1)]
    if len(rows) < 0.5 * (last - first + 1):
        return None
    return float(np.median(low[rows] - other_low[rows]))


def _floor(
    low: Floats, rests: list[tuple[int, int]], *, fallback: Floats, settings: CoarseSettings
) -> Floats:
    """Level of the floor under a foot, statures, shape (T,); a foot is never far below it."""
    if not rests:
        floor = np.full_like(low, np.percentile(np.concatenate([low, fallback]), 5))
    else:
        floor = _level_between(low, rests)
    for _ in range(settings.most_missed_rests):
        lowest = int(np.argmin(low - floor))
        if low[lowest] - floor[lowest] > -settings.clear_of_floor_statures:
            break
        level = float(low[lowest]) + settings.side_step_statures
        runs = list_runs(low < level, gap=0)
        missed = next(run for run in runs if run[0] <= lowest <= run[1])
        rests = [rest for rest in rests if rest[1] < missed[0] or rest[0] > missed[1]] + [missed]
        floor = _level_between(low, sorted(rests))
    return floor


def _level_between(low: Floats, rests: list[tuple[int, int]]) -> Floats:
    """Each rest's own level, straight lines in time between them."""
    rows = np.concatenate([np.arange(first, last + 1) for first, last in rests])
    levels = np.concatenate([np.full(b - a + 1, np.median(low[a : b + 1])) for a, b in rests])
    floor: Floats = np.interp(np.arange(low.shape[0]), rows, levels)
    return floor


def _left_downwards(
    low: Floats, rest: tuple[int, int], *, stride: int, by: float, beside: Floats | None = None
) -> bool:
    """Tell whether the foot goes lower soon after or came from lower soon before.

    Where another foot is given, than that one does.
    """
    first, last = rest
    reach = max(4 * stride, last - first + 1)
    sides = slice(max(0, first - reach), first), slice(last + 1, last + 1 + reach)
    level = float(np.median(low[first : last + 1]))
    others = 0.0 if beside is None else float(np.median(beside[first : last + 1]))
    for side in sides:
        if low[side].size > 0:
            others_lowest = 0.0 if beside is None else float(beside[side].min())
            if low[side].min() - others_lowest < level - others - by:
                return True
    return False


def list_runs(flags: Flags, *, gap: int) -> list[tuple[int, int]]:
    """Give first and last row of every run of true flags, runs closer than the gap joined."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    runs: list[tuple[int, int]] = []
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if runs and first - runs[-1][1] - 1 <= gap:
            runs[-1] = (runs[-1][0], after - 1)
        else:
            runs.append((first, after - 1))
    return runs


