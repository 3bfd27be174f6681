"""Take out the legs that a pose has borrowed from somebody else.

When one leg is hidden (seen from the side) and another person stands close, the pose model may
put the hidden leg on that person's leg. Such a leg lies on a leg of a pose that knows it better.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from measure.io.bodies import Body, Seen, circle_radius_px
from measure.io.pose import Landmarks
from measure.types import FOOT_LANDMARKS

__all__ = ["BorrowedSettings", "drop_borrowed_legs"]

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]

_LEGS = [[leg.knee, leg.ankle, leg.heel, leg.toe] for leg in FOOT_LANDMARKS.values()]
_ANKLES = [leg.ankle for leg in FOOT_LANDMARKS.values()]


@dataclass(frozen=True, slots=True)
class BorrowedSettings:
    """Lengths in radii of the circle round the athlete."""

    near_radii: float = 0.15
    """Two legs are one when their points lie, in the median, nearer than this."""
    apart_radii: float = 0.2
    """A leg this far from the athlete's other one, shortly before or after it was another
    person's, is still taken to be that person's."""
    shortly_s: float = 0.4


def drop_borrowed_legs(
    rows: Sequence[Seen], others: Sequence[Body], *, settings: BorrowedSettings
) -> list[Seen]:
    """Rows without the legs that are another body's.

    Parameters
    ----------
    rows : sequence of Seen
        The athlete's poses in time order.
    others : sequence of Body
        Everybody else who was followed.
    settings : BorrowedSettings
        Distances and time.

    Returns
    -------
    list of Seen
        Knee, ankle, heel and toe of a borrowed leg are NaN with visibility 0.

    Notes
    -----
    Wrong where the other person was never followed by themselves: too hidden, or too small.
    """
    beside: dict[int, list[Landmarks]] = {}
    for body in others:
        for row in body.rows:
            beside.setdefault(row.frame_index, []).append(row.pose)
    on_other = np.array([
        [
            _is_better_seen(row.pose, list(leg), beside.get(row.frame_index, []), settings)
            for leg in _LEGS
        ]
        for row in rows
    ], dtype=np.bool_)  # fmt: skip
    borrowed = on_other | (_stuck_out(rows, settings) & _shortly(on_other, rows, settings))
    for k in np.flatnonzero(borrowed.all(axis=1)):
        if _is_before(rows[k], others, settings):
            seen = [rows[k].pose.visibility[leg].mean() for leg in _LEGS]
            borrowed[k, int(np.argmax(seen))] = False
    return [row if not any(b) else _without(row, b) for row, b in zip(rows, borrowed, strict=True)]


def _is_before(row: Seen, others: Sequence[Body], settings: BorrowedSettings) -> bool:
    """Tell whether all who are seen about then are farther off, so that one leg is her own."""
    radii_px = [
        other.radius_px
        for body in others for other in body.rows
        if abs(other.file_time_s - row.file_time_s) <= settings.shortly_s
    ]  # fmt: skip
    return len(radii_px) > 0 and max(radii_px) < row.radius_px


def _is_better_seen(
    pose: Landmarks, leg: list[int], others: Sequence[Landmarks], settings: BorrowedSettings
) -> bool:
    """Tell whether a leg lies on another's leg, whose own pose knows it better."""
    near_px = settings.near_radii * circle_radius_px(pose)
    for other in others:
        for others_leg in _LEGS:
            apart_px = np.median(np.hypot(*(pose.px[leg] - other.px[others_leg]).T))
            surer = other.visibility[others_leg].mean() > pose.visibility[leg].mean()
            if apart_px < near_px and surer:
                return True
    return False


def _stuck_out(rows: Sequence[Seen], settings: BorrowedSettings) -> Bools:
    """Rows whose ankles are apart, shape (T, 1)."""
    apart = [
        np.hypot(*(row.pose.px[_ANKLES[0]] - row.pose.px[_ANKLES[1]])) / circle_radius_px(row.pose)
        for row in rows
    ]
    return np.asarray(np.array(apart)[:, None] > settings.apart_radii, dtype=np.bool_)


def _shortly(on_other: Bools, rows: Sequence[Seen], settings: BorrowedSettings) -> Bools:
    """Rows within ``shortly_s`` of one where the same leg is another's, shape (T, 2)."""
    time_s = np.array([row.file_time_s for row in rows])
    near = np.zeros_like(on_other)
    for leg in range(on_other.shape[1]):
        for moment_s in time_s[on_other[:, leg]]:
            near[:, leg] |= np.abs(time_s - moment_s) <= settings.shortly_s
    return near


def _without(row: Seen, borrowed: Bools) -> Seen:
    gone = [point for leg, b in zip(_LEGS, borrowed, strict=True) if b for point in leg]
    pose = row.pose
    px, visibility, world_m = pose.px.copy(), pose.visibility.copy(), pose.world_m.copy()
    px[gone], visibility[gone], world_m[gone] = np.nan, 0.0, np.nan
    return replace(row, pose=replace(pose, px=px, visibility=visibility, world_m=world_m))
