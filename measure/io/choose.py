"""Say which of the people in the picture is the athlete, and join her parts.

Decided from the whole clip: the athlete is in the picture for long, is large, moves up and down
more than people who walk or stand, and is nearer to the middle. What was followed in several
parts (she was covered, or left the picture) is joined where place and size agree; where they
don't, a gap is better than somebody else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.io.bodies import TRUNK, Body, Seen

__all__ = ["ChooseSettings", "choose_athlete"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ChooseSettings:
    """How the athlete is told from others. Lengths in radii of the circle round the body."""

    shortest_s: float = 0.1
    """Bodies followed for less are no one's."""
    still_radii_per_s: float = 0.2
    """Added to the vertical speed, so that an athlete who stands most of the time still counts."""
    speed_over_s: float = 0.1
    """Speeds are taken over this long, so that pose noise does not look like movement."""
    join_radii: float = 0.3
    join_radii_per_s: float = 2.0
    """How far the trunk may be from where it was, or from where it was heading, and what each
    second of gap adds."""
    heading_s: float = 0.25
    """Motion before the gap that says where the body was heading."""
    join_size_ratio: float = 1.3


def choose_athlete(
    bodies: Sequence[Body], *, width_px: int, settings: ChooseSettings
) -> list[Seen]:
    """Poses of the athlete in time order; empty where nobody was followed long enough."""
    people = [body for body in bodies if _duration_s(body) >= settings.shortest_s]
    if not people:
        return []
    athlete = max(people, key=lambda body: _weight(body, width_px, settings))
    rows = list(athlete.rows)
    for body in sorted(people, key=lambda b: _gap_s(athlete.rows, b.rows)):
        if body is not athlete and _continues(rows, body.rows, settings):
            rows = sorted([*rows, *body.rows], key=lambda row: row.frame_index)
    return rows


def _duration_s(body: Body) -> float:
    return body.last_s - body.rows[0].file_time_s


def _weight(body: Body, width_px: int, settings: ChooseSettings) -> float:
    """Product of time in the picture, size, vertical movement and nearness to the middle."""
    axes = np.array([row.pose.axis_px for row in body.rows])
    radius_px = float(np.median(np.hypot(*(axes[:, 1] - axes[:, 0]).T)))
    off_middle = np.median(np.abs(axes[:, 0, 0] - width_px / 2)) / width_px
    time_s = np.array([row.file_time_s for row in body.rows])
    rise = _vertical_speed_px_per_s(time_s, axes[:, 0, 1], settings.speed_over_s) / radius_px
    liveliness = rise + settings.still_radii_per_s
    return float(_duration_s(body) * radius_px * liveliness * np.exp(-((off_middle / 0.5) ** 2)))


def _vertical_speed_px_per_s(time_s: Floats, y_px: Floats, over_s: float) -> float:
    """Root mean square of the vertical speed."""
    grid_s = np.arange(time_s[0], time_s[-1] + over_s / 2, over_s)
    if grid_s.size < 2:
        return 0.0
    speed = np.diff(np.interp(grid_s, time_s, y_px)) / over_s
    return float(np.sqrt(np.mean(speed**2)))


def _gap_s(rows: Sequence[Seen], others: Sequence[Seen]) -> float:
    return max(
        others[0].file_time_s - rows[-1].file_time_s, rows[0].file_time_s - others[-1].file_time_s
    )


def _continues(rows: Sequence[Seen], others: Sequence[Seen], settings: ChooseSettings) -> bool:
    """Tell whether the others fit into free time, as the same person at both ends."""
    first, last = others[0].frame_index, others[-1].frame_index
    before = [row for row in rows if row.frame_index < first]
    after = [row for row in rows if row.frame_index > last]
    if len(before) + len(after) < len(rows):
        return False
    fits_before = not before or _joins(before, others, settings)
    return fits_before and (not after or _joins(others, after, settings))


def _joins(early: Sequence[Seen], late: Sequence[Seen], settings: ChooseSettings) -> bool:
    gap_s = late[0].file_time_s - early[-1].file_time_s
    size_early, size_late = _trunk_px(early[-15:]), _trunk_px(late[:15])
    ratio = max(size_early, size_late) / min(size_early, size_late)
    body, next_s = Body(list(early[-15:])), late[0].file_time_s
    heading_px = body.expected_px(next_s, trend_s=settings.heading_s)[2:]
    apart_px = min(
        float(np.median(np.hypot(*(late[0].pose.px[TRUNK] - before_px).T)))
        for before_px in (early[-1].pose.px[TRUNK], heading_px)
    )
    reach = settings.join_radii + settings.join_radii_per_s * gap_s
    apart = apart_px / body.radius_px()
    return ratio <= settings.join_size_ratio and apart <= reach


def _trunk_px(rows: Sequence[Seen]) -> float:
    """Median length from the middle of the shoulders to the middle of the hips."""
    trunks = np.array([row.pose.px[TRUNK] for row in rows])
    length = trunks[:, :2].mean(axis=1) - trunks[:, 2:].mean(axis=1)
    return max(float(np.median(np.hypot(*length.T))), 1.0)
