"""Heights of the point of a shoe that stands last, or first, and what they show of a patch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.contacts.plan import EventKind
from measure.contacts.trace import Trace
from measure.types import Floats

JOLT_S, JOLT_INTERVALS = 0.06, 4.5
"""A free foot is looked at for jumps so long, and in slow films over so many pictures."""
HOVERING_M = 0.03
"""No foot seems so high while it stands: what was followed there was something else."""
TIP_INSIDE_M = 0.005
"""The tip stands on a point this far inside the outline of the shoe."""
TIP_LENGTH_M = 0.020


@dataclass(frozen=True, slots=True)
class Heights:
    """Rows of the linear model: height of a shoe point = picture terms times its place."""

    since_s: Floats
    """Time of each picture, on a clock in which the foot always leaves (landings mirrored)."""
    rise_m: Floats
    """Upward way of the patch centre."""
    side_m: Floats
    sin: Floats
    cos_less_1: Floats
    place_m: Floats
    """Where the standing point is expected, from the patch centre, x right and y down."""

    @property
    def point_m(self) -> Floats:
        """Height of that point above where it stood, of each picture."""
        height: Floats = (
            self.rise_m - self.sin * self.place_m[0] - self.cos_less_1 * self.place_m[1]
        )
        return height

    def in_order(self) -> tuple[Floats, Floats]:
        """Times and heights of the point as they follow each other: landings are mirrored."""
        order = np.argsort(self.since_s)
        return self.since_s[order], self.point_m[order]


def read_heights(trace: Trace, *, kind: EventKind, px_per_m: float) -> Heights:
    """Heights of one patch over its pictures, in metres."""
    path = trace.path
    direction = 1.0 if kind == "take_off" else -1.0
    return Heights(
        since_s=direction * path.time_s,
        rise_m=-path.shift_px[:, 1] / px_per_m,
        side_m=path.shift_px[:, 0] / px_per_m,
        sin=np.sin(path.turn_rad),
        cos_less_1=np.asarray(np.cos(path.turn_rad) - 1.0, dtype=np.float64),
        place_m=_standing_point(trace, kind=kind, px_per_m=px_per_m),
    )


def _standing_point(trace: Trace, *, kind: EventKind, px_per_m: float) -> Floats:
    """Point of the sole that leaves last (or lands first), metres from the patch centre.

    Seen from the side a foot rolls over its toes before it leaves: the tip stands last, whatever
    point it turned about before. A heel that comes down first does so with its edge.
    """
    patch, path = trace.patch, trace.path
    low = patch.sole[patch.sole[:, 1] > patch.sole[:, 1].max() - 0.02 * px_per_m]
    start = np.array([np.median(low[:, 0]), patch.sole[:, 1].max()]) - patch.centre
    ends_first = kind == "take_off" or trace.end == "heel"
    if ends_first and trace.direction:
        return (_tip(patch.sole, trace.direction, px_per_m) - patch.centre) / px_per_m
    since = path.time_s - path.time_s[path.reference_row]
    away = since if kind == "take_off" else -since
    standing = (away <= 0) & (away > -0.07)
    rows, rhs = [np.eye(2) / (0.02 * px_per_m)], [start / (0.02 * px_per_m)]
    for turn, shift in zip(path.turn_rad[standing], path.shift_px[standing], strict=True):
        cos, sin = np.cos(turn), np.sin(turn)
        rows.append(np.array([[cos - 1, -sin], [sin, cos - 1]]) / 0.3)
        rhs.append(-shift / 0.3)
    place, *_ = np.linalg.lstsq(np.concatenate(rows), np.concatenate(rhs), rcond=None)
    result: Floats = place / px_per_m
    return result


def _tip(sole: Floats, direction: int, px_per_m: float) -> Floats:
    """Foremost point of the sole, which a camera above the floor sees higher than its edge."""
    ends = direction * (direction * sole[:, 0]).max()
    foremost = direction * (ends - sole[:, 0]) < TIP_LENGTH_M * px_per_m
    return np.array([ends - direction * TIP_INSIDE_M * px_per_m, sole[foremost, 1].max()])


def guess_instant(heights: Heights, *, clear_m: float = 0.02) -> float | None:
    """First instant after which the standing point stays clear of the floor."""
    times, rise = heights.in_order()
    clear = rise > clear_m
    for i in range(1, times.shape[0]):
        if clear[i : i + 3].all() and not clear[i - 1]:
            share = (clear_m - rise[i - 1]) / max(rise[i] - rise[i - 1], 1e-9)
            return float(times[i - 1] + np.clip(share, 0, 1) * (times[i] - times[i - 1])) - 0.009
    return None


def find_sinking(heights: Heights, instant: float) -> float:
    """How far below the floor, metres, the point seems to stand in the last tenth of a second."""
    since = heights.since_s - instant
    standing = (since < 0) & (since > -0.1)
    if standing.sum() < 2:
        return 0.0
    rise = heights.point_m[standing]
    return float(max(0.0, -np.median(np.sort(rise)[:2])))


def trust_pictures(heights: Heights, guess: float) -> Floats:
    """Weight 0 for pictures in which a foot that stands again later seems to be in the air."""
    hovers = (heights.since_s < guess) & (heights.point_m > HOVERING_M)
    return np.where(hovers, 0.0, 1.0)


def find_jolt(heights: Heights, instant: float, interval_s: float) -> float:
    """Largest second difference, metres, less gravity, of the pictures that show the foot free."""
    times_s, height_m = heights.in_order()
    since_s = times_s - instant
    longest_s = max(JOLT_S, JOLT_INTERVALS * interval_s)
    free = (since_s > -0.3 * interval_s) & (since_s < longest_s)
    since_s, height_m = since_s[free], height_m[free]
    if since_s.shape[0] < 3:
        return 0.0
    speeds_mps = np.diff(height_m) / np.diff(since_s)
    bends_mps2 = np.diff(speeds_mps) / (0.5 * (since_s[2:] - since_s[:-2]))
    return float(np.abs(bends_mps2 + STANDARD_GRAVITY_MPS2).max()) * interval_s**2


def find_near_speed(heights: Heights, instant: float, interval_s: float) -> float:
    """Speed in m/s between the two pictures next to the instant that show the foot free, or NaN."""
    times_s, height_m = heights.in_order()
    since_s = times_s - instant
    near = np.flatnonzero(since_s > 0.2 * interval_s)[:2]
    if near.shape[0] < 2:
        return float("nan")
    return float(np.diff(height_m[near])[0] / np.diff(since_s[near])[0])
