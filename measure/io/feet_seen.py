"""Where feet have been seen so far: which strip of the pictures will be looked at closely."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from measure.io.bodies import Body
from measure.types import FOOT_LANDMARKS, Floats

__all__ = ["Box", "FeetSeen", "Strip"]

Box = tuple[int, int, int, int]
"""Left, top, right, bottom in the upright picture."""

ABOVE_RADII, BELOW_RADII = 1.0, 0.28
"""Reach of a strip about the lower foot, in radii of the circle round the whole body (0.9 m): the
windows of `measure.contacts.plan` about either foot, which perspective puts 0.3 m apart."""
SIDE_RADII = 0.75
"""Reach to each side of the feet, at least: those windows again, a foot's length apart."""
MOVES_RADII = 0.5
"""Feet whose places lately are farther apart than this, 0.45 m, move along."""
SLACK_RADII = 0.08
"""A strip stays while feet keep that reach less this."""
LATELY_S = 5.0
"""The lowest place of the feet so lately is the floor: longer than a flight in slow motion."""
SPEED_OVER_S, NEAR_S = 0.1, 0.2
"""Feet's speed is taken over so long, since poses are noisy, and is that of a moment so near to it:
`measure.contacts.plan` looks at pictures up to 0.15 s from where a foot is clear of the floor."""
_FEET = [point for leg in FOOT_LANDMARKS.values() for point in (leg.heel, leg.toe)]


@dataclass(frozen=True, slots=True)
class Strip:
    """Part of the pictures that is worth keeping."""

    box: Box
    """May reach beyond the picture."""
    moves: bool
    """Made for feet that have moved along lately: an event's bare ground is seen while they are
    elsewhere, so it reaches beyond them."""

    def holds(self, edges_px: tuple[float, float, float, float]) -> bool:
        """Tell whether a rectangle lies inside."""
        across = self.box[0] <= edges_px[0] and edges_px[2] <= self.box[2]
        return across and self.box[1] <= edges_px[1] and edges_px[3] <= self.box[3]


class FeetSeen:
    """Takes notice of the largest body's feet while the clip is gone through."""

    def __init__(self) -> None:
        self.until_s = -np.inf
        """File time of the latest pose."""
        self.radius_px = 0.0
        self._times_s: list[float] = []
        self._lowest_px: list[float] = []
        self._middle_px: list[float] = []
        self._px: list[Floats] = []
        self._speeds: list[float] = []

    def see(self, bodies: Sequence[Body]) -> None:
        """Take the newest poses; a person who was only just found is not believed yet."""
        known = [body for body in bodies if not body.is_young]
        if not known:
            return
        body = max(known, key=Body.radius_px)
        self.radius_px = body.radius_px()
        count = next(
            (k for k, row in enumerate(reversed(body.rows)) if row.file_time_s <= self.until_s),
            len(body.rows),
        )
        for row in body.rows[len(body.rows) - count :]:
            self._add(row.file_time_s, row.pose.px[_FEET])

    def strip(self, before: Strip | None, *, widest_px: float, picture_px: int) -> Strip | None:
        """Where to keep pictures: where it was, unless the feet have left that.

        Parameters
        ----------
        before : Strip or None
        widest_px : float
            Width about feet that move; about feet that stay in place it is what they need.
        picture_px : int
            Width of the upright picture.

        Returns
        -------
        Strip or None
            None while nobody is known.
        """
        if not self._times_s:
            return None
        lately = self._middle_px[bisect_left(self._times_s, self.until_s - LATELY_S) :]
        moves = max(lately) - min(lately) > MOVES_RADII * self.radius_px
        middle_px, side_px = self._middle_px[-1], (SIDE_RADII - SLACK_RADII) * self.radius_px
        top, bottom = self._up_and_down(SLACK_RADII)
        least = (middle_px - side_px, top, middle_px + side_px, bottom)
        if before is not None and before.moves == moves and before.holds(least):
            return before
        side_px = SIDE_RADII * self.radius_px
        left, right = min(lately) - side_px, max(lately) + side_px
        if moves:
            first = max(0.0, min(middle_px - widest_px / 2, picture_px - widest_px))
            left, right = min(left, first), max(right, first + widest_px)
        top, bottom = self._up_and_down(0.0)
        return Strip((round(left), round(top), round(right), round(bottom)), moves)

    def height_px(self) -> float:
        """Height of a strip."""
        return (ABOVE_RADII + BELOW_RADII) * self.radius_px

    def speed_about(self, file_time_s: float) -> float:
        """Greatest speed of the feet, radii per second, near a moment; infinite while unknown."""
        first = bisect_left(self._times_s, file_time_s - NEAR_S)
        last = bisect_left(self._times_s, file_time_s + NEAR_S)
        if last == len(self._times_s):
            return np.inf
        return max(self._speeds[first:last], default=0.0)

    def _up_and_down(self, slack_radii: float) -> tuple[float, float]:
        floor_px = max(self._lowest_px[bisect_left(self._times_s, self.until_s - LATELY_S) :])
        above, below = ABOVE_RADII - slack_radii, BELOW_RADII - slack_radii
        return floor_px - above * self.radius_px, floor_px + below * self.radius_px

    def _add(self, file_time_s: float, px: Floats) -> None:
        self._px.append(px)
        self._times_s.append(file_time_s)
        earlier = bisect_left(self._times_s, file_time_s - SPEED_OVER_S)
        way_px = np.hypot(*(px - self._px[earlier]).T).max()
        self._speeds.append(float(way_px) / self.radius_px / SPEED_OVER_S)
        self._lowest_px.append(float(px[:, 1].max()))
        self._middle_px.append(float(px[:, 0].mean()))
        self.until_s = file_time_s

