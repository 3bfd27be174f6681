"""Follow every person in the picture from frame to frame, each in a region of their own.

A body is followed by placing the next region where its own recent motion leads. A pose that
jumps away from that prediction belongs to somebody else and is not taken: the body waits a
moment where it was expected, and the other pose starts a body of its own. Two bodies never share
one pose. Which body is the athlete is decided afterwards, from all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from measure.io.bodies import TRUNK, TRUNK_AND_LEGS, Body, Seen, circle_radius_px, median_apart_px
from measure.io.foreseen import Ahead, TimedPicture, look_ahead
from measure.io.pose import Landmarks, Picture, PoseModel, Region, region_from_axis
from measure.io.search import SideBySide, search_areas, search_people

__all__ = ["FollowSettings", "Follower", "TimedPicture"]

Floats = NDArray[np.float64]

_LOOKS = 5
"""Looks until a newcomer's pose must hold still."""


@dataclass(frozen=True, slots=True)
class FollowSettings:
    """How bodies are followed. Lengths are in radii of the circle round the whole body."""

    jump_radii: float = 0.2
    """A trunk farther than this from where it was expected is somebody else's."""
    jump_radii_per_s2: float = 12.0
    """Added to it times the squared time since the last pose: what a body's own acceleration
    can do (2 g at a radius of 0.85 m)."""
    young_jump_radii: float = 0.4
    """Allowed instead while a body has too few poses for its speed to be known."""
    size_ratio: float = 1.2
    """Largest change of the circle from one pose to the next."""
    trend_s: float = 0.06
    """Recent motion that says where a body is expected."""
    wait_s: float = 0.25
    """How long a body without a pose is waited for where it was expected."""
    probe_s: float = 3.0
    """How long after that somebody is still looked for at the same place."""
    probe_every_s: float = 0.1
    walk_s: float = 0.5
    """Motion by which somebody who walks on behind the athlete is looked for beyond her."""
    search_every_s: float = 0.5
    """Search of the whole picture while somebody is followed; every other time of enlarged parts
    too."""
    deep_search_every_s: float = 0.25
    """Search of enlarged parts too, while nobody is; each one in vain makes the next wait half as
    long again, up to ``deep_search_rest_s``."""
    deep_search_rest_s: float = 1.0
    deepest: int = 3
    bodies_at_once: int = 4
    larger_ratio: float = 1.3
    """Beyond that number a newcomer takes the place of somebody this much smaller."""
    same_radii: float = 0.2
    """Two poses nearer than this are one person's."""
    settled_radii: float = 0.05
    """A newcomer is believed once looking again moves the pose by less than this ..."""
    newcomer_score: float = 0.9
    """... and the model is this sure of it: bushes and banners settle too, at lower scores."""


class Follower:
    """Takes the pictures of a clip one by one and keeps all bodies seen in them."""

    def __init__(
        self, model: PoseModel, *, settings: FollowSettings, side_by_side: SideBySide = map
    ) -> None:
        self.ended: list[Body] = []
        self.most_at_once = 0
        self._model = model
        self._settings = settings
        self._live: list[Body] = []
        self._next_search_s = -np.inf
        self._next_probe_s = -np.inf
        self._in_vain = self._searches = 0
        self._side_by_side = side_by_side
        self._ahead = Ahead()

    def bodies(self) -> list[Body]:
        """Everybody seen so far."""
        return [*self.ended, *self._live]

    @property
    def followed(self) -> list[Body]:
        """Everybody who is being followed now."""
        return self._live

    def speed_radii_per_s(self, over_s: float) -> float:
        """Speed of the fastest body lately; infinite while nobody is known."""
        return max((body.speed_radii_per_s(over_s) for body in self._live), default=np.inf)

    def take_together(self, pictures: Sequence[TimedPicture]) -> None:
        """Look at a few pictures that follow each other closely.

        Where a body will be is foreseen for all of them from what was known before the first,
        so that they can be looked at side by side, and the squares of a search that is due with
        them; whether a pose is hers is judged one by one.
        """
        trend_s = self._settings.trend_s
        looks = [
            (body, picture, body.next_region(picture.file_time_s, trend_s=trend_s))
            for body in self._live for picture in pictures
        ]  # fmt: skip
        self._ahead = look_ahead(
            self._model, looks, self._searched_next(pictures), side_by_side=self._side_by_side
        )
        for picture in pictures:
            self.take(picture)
        self._ahead = Ahead()

    def _searched_next(
        self, pictures: Sequence[TimedPicture]
    ) -> list[tuple[TimedPicture, Region | None]]:
        """Squares in which a search that is due will look, unless everybody is lost before it."""
        due = [one for one in pictures if one.file_time_s >= self._next_search_s]
        if not due or not self._live:
            return []
        return [
            (due[0], area)
            for level in range(self._deepest(self._searches + 1) + 1)
            for area in search_areas(due[0], level)
        ]

    def take(self, picture: TimedPicture) -> None:
        """Look at the next picture."""
        strangers = [self._go_on(body, picture) for body in self._live]
        self._part(picture.index)
        self._retire(picture.file_time_s)
        self._begin([region for region in strangers if region is not None], picture)
        self._probe(picture)
        self._search(picture)
        known = sum(not body.is_young for body in self._seen_in(picture.index))
        self.most_at_once = max(self.most_at_once, known)

    def _seen_in(self, index: int) -> list[Body]:
        return [body for body in self._live if body.rows[-1].frame_index == index]

    def _go_on(self, body: Body, picture: TimedPicture) -> Region | None:
        """Give the body its next pose; where that is somebody else's, say where they are."""
        settings, now_s = self._settings, picture.file_time_s
        key = (id(body), picture.index)
        if key in self._ahead.poses:
            pose = self._ahead.poses[key]
        else:
            region = body.next_region(now_s, trend_s=settings.trend_s)
            pose = self._model.landmarks(picture, region)
        if pose is None or not _is_inside(pose.axis_px[0], picture):
            return None
        return None if self._take_on(body, pose, picture) else region_from_axis(pose.axis_px)

    def _take_on(self, body: Body, pose: Landmarks, picture: TimedPicture) -> bool:
        """Give the body this pose if it is hers: where she is expected, and of her size."""
        settings, now_s = self._settings, picture.file_time_s
        expected_px = body.expected_px(now_s, trend_s=settings.trend_s)[2:]
        allowed_px = self._allowed_radii(body, now_s) * body.radius_px()
        misfit = median_apart_px(pose.px[TRUNK], expected_px) / allowed_px
        ratio = circle_radius_px(pose) / body.rows[-1].radius_px
        hers = misfit <= 1 and 1 / settings.size_ratio < ratio < settings.size_ratio
        if hers:
            body.rows.append(Seen(picture.index, now_s, pose, misfit))
        return hers

    def _allowed_radii(self, body: Body, now_s: float) -> float:
        """Radii by which the trunk may miss its expected place."""
        settings = self._settings
        if body.is_young:
            return settings.young_jump_radii
        elapsed_s = min(now_s - body.last_s, 0.1)
        return settings.jump_radii + settings.jump_radii_per_s2 * elapsed_s**2

    def _part(self, index: int) -> None:
        """Where two bodies took one pose, leave it to the one whose path it continues."""
        here = self._seen_in(index)
        here.sort(key=lambda body: (body.is_young, body.rows[-1].misfit))
        kept: list[Body] = []
        for body in here:
            if any(self._same(body.rows[-1].pose, other) for other in kept):
                body.rows.pop()
            else:
                kept.append(body)
        self._live = [body for body in self._live if body.rows]

    def _same(self, pose: Landmarks, body: Body) -> bool:
        near = self._settings.same_radii * min(circle_radius_px(pose), body.radius_px())
        return _apart_px(pose, body.rows[-1].pose) < near

    def _begin(self, regions: Sequence[Region], picture: TimedPicture) -> None:
        """Start a body in each region where a pose holds still under a second look.

        Not for those who are followed already and whom the first look missed.
        """
        for region in regions:
            if self._is_known(region, picture.index) or not self._has_room(region):
                continue
            pose = self._settled(region, picture)
            here = self._seen_in(picture.index)
            missed = [body for body in self._live if body not in here]
            if pose is None or any(self._same(pose, body) for body in here):
                continue
            if not any(self._take_on(body, pose, picture) for body in missed):
                self._make_room()
                self._live.append(Body([Seen(picture.index, picture.file_time_s, pose)]))

    def _has_room(self, region: Region) -> bool:
        """Tell whether one more can be followed, if need be instead of the smallest."""
        if len(self._live) < self._settings.bodies_at_once:
            return True
        return region.size_px > self._settings.larger_ratio * self._smallest().region().size_px

    def _make_room(self) -> None:
        if len(self._live) >= self._settings.bodies_at_once:
            self.ended.append(self._smallest())
            self._live.remove(self.ended[-1])

    def _smallest(self) -> Body:
        return min(self._live, key=Body.radius_px)

    def _settled(self, region: Region, picture: TimedPicture) -> Landmarks | None:
        """Look again where the first look says the body is, until the pose holds still."""
        before = None
        for _ in range(_LOOKS):
            pose = self._model.landmarks(picture, region)
            if pose is None or not _is_inside(pose.axis_px[0], picture):
                return None
            near = self._settings.settled_radii * circle_radius_px(pose)
            if before is not None and _apart_px(pose, before) < near:
                return pose if pose.score >= self._settings.newcomer_score else None
            before, region = pose, region_from_axis(pose.axis_px)
        return None

    def _retire(self, file_time_s: float) -> None:
        oldest_s = file_time_s - self._settings.wait_s
        self.ended += [body for body in self._live if body.last_s < oldest_s]
        self._live = [body for body in self._live if body.last_s >= oldest_s]

    def _probe(self, picture: TimedPicture) -> None:
        """Look for lost bodies where they were last, and where they were heading."""
        settings, now_s = self._settings, picture.file_time_s
        if now_s < self._next_probe_s:
            return
        missed = [body for body in self.ended if now_s - body.last_s < settings.probe_s]
        missed = missed[-settings.bodies_at_once :]
        where_last = [b.next_region(b.last_s, trend_s=settings.trend_s) for b in missed]
        moved_on = [b.next_region(now_s, trend_s=settings.walk_s) for b in missed]
        self._begin([*where_last, *moved_on], picture)
        self._next_probe_s = now_s + settings.probe_every_s

    def _search(self, picture: TimedPicture) -> None:
        """Look for people all over the picture, closely where nobody is known."""
        settings, now_s = self._settings, picture.file_time_s
        if now_s < self._next_search_s:
            return
        self._searches += 1
        levels = search_people(
            partial(self._ahead.detect, self._model), picture,
            deepest=self._deepest(self._searches), side_by_side=self._side_by_side,
        )  # fmt: skip
        for level, regions in enumerate(levels):
            self._begin(regions, picture)
            if self._live and level > 0:
                break
        self._in_vain = 0 if self._live else self._in_vain + 1
        rest_s = settings.deep_search_every_s * 1.5 ** (self._in_vain - 1)
        wait_s = min(rest_s, settings.deep_search_rest_s)
        self._next_search_s = now_s + (settings.search_every_s if self._live else wait_s)

    def _deepest(self, search: int) -> int:
        """Last level of a search, by its number."""
        return search % 2 if self._live else self._settings.deepest

    def _is_known(self, region: Region, index: int) -> bool:
        """Tell whether somebody is already followed in this region."""
        for body in self._seen_in(index):
            latest = body.rows[-1]
            near = np.hypot(*(latest.pose.axis_px[0] - region.centre_px)) < 0.3 * latest.radius_px
            if near and 0.5 < region.size_px / body.region().size_px < 2.0:
                return True
        return False


def _is_inside(hips_px: Floats, picture: Picture) -> bool:
    """Tell whether the middle of the hips is in the picture; beyond its edge poses are guesses."""
    return bool(0 <= hips_px[0] <= picture.width_px and 0 <= hips_px[1] <= picture.height_px)


def _apart_px(one: Landmarks, other: Landmarks) -> float:
    return median_apart_px(one.px[TRUNK_AND_LEGS], other.px[TRUNK_AND_LEGS])
