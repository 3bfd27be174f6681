"""Follow every person in the picture from frame to frame, each in a region of their own.

A body is followed by placing the next region where its own recent motion leads. A pose that
jumps away from that prediction belongs to somebody else and is not taken: the body waits a
moment where it was expected, and the other pose starts a body of its own. Two bodies never share
one pose. Which body is the athlete is decided afterwards, from all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from measure.io.pose import Landmarks, Picture, PoseModel, Region, region_from_axis
from measure.io.search import search_people
from measure.types import Landmark

__all__ = ["Body", "FollowSettings", "Follower", "TimedPicture"]

Floats = NDArray[np.float64]

TRUNK = [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, Landmark.LEFT_HIP, Landmark.RIGHT_HIP]
_BODY = [*TRUNK, Landmark.LEFT_KNEE, Landmark.RIGHT_KNEE, Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE]
_YOUNG = 3
"""Poses before a body's speed is believed."""
_RECENT = 30
"""Poses looked back at, at most."""
_LOOKS = 5


class TimedPicture(Picture, Protocol):
    """A picture that knows its place in the clip."""

    @property
    def index(self) -> int:
        """Number in decoding order."""

    @property
    def file_time_s(self) -> float:
        """Seconds of file time."""


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
    """Search of the whole picture while somebody is followed."""
    deep_search_every_s: float = 0.25
    """Search of enlarged parts too, while nobody is; each one in vain makes the next wait half as
    long again, up to ``deep_search_rest_s``."""
    deep_search_rest_s: float = 1.0
    deepest: int = 3
    bodies_at_once: int = 4
    same_radii: float = 0.2
    """Two poses nearer than this are one person's."""
    settled_radii: float = 0.05
    """A newcomer is believed once looking again moves the pose by less than this ..."""
    newcomer_score: float = 0.9
    """... and the model is this sure of it: bushes and banners settle too, at lower scores."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One pose of a body."""

    frame_index: int
    file_time_s: float
    pose: Landmarks
    misfit: float = 0.0
    """Distance of the trunk from where it was expected, over what was allowed."""


@dataclass
class Body:
    """One person while followed without a break."""

    rows: list[Seen] = field(default_factory=list)

    @property
    def last_s(self) -> float:
        """File time of the latest pose."""
        return self.rows[-1].file_time_s

    @property
    def is_young(self) -> bool:
        """Too few poses for its speed to be known."""
        return len(self.rows) < _YOUNG

    def radius_px(self) -> float:
        """Median radius of the circle round the body over the latest poses."""
        return float(np.median([_radius_px(row.pose) for row in self.rows[-_RECENT:]]))

    def expected_px(self, file_time_s: float, *, trend_s: float) -> Floats:
        """Axis and trunk if the body goes straight on, shape (6, 2): axis points first.

        Beyond twice the trend's length the body is taken to stand still: its speed says no more.
        """
        rows = [r for r in self.rows[-_RECENT:] if r.file_time_s >= self.last_s - trend_s]
        rows = rows if len(rows) >= _YOUNG else self.rows[-_YOUNG:]
        points = np.array([np.vstack([r.pose.axis_px, r.pose.px[TRUNK]]) for r in rows])
        time_s = np.array([r.file_time_s for r in rows]) - self.last_s
        centred_s = time_s - time_s.mean()
        spread_s2 = float(np.sum(centred_s**2)) or 1.0
        speed = np.tensordot(centred_s, points, axes=1) / spread_s2
        ahead_s = min(file_time_s - self.last_s, 2 * trend_s)
        return np.asarray(points.mean(axis=0) + speed * (ahead_s - time_s.mean()))

    def next_region(self, file_time_s: float, *, trend_s: float) -> Region:
        """Region for the next pose: the hips' straight path, the body's recent size and turn."""
        recent = [r for r in self.rows[-_RECENT:] if r.file_time_s >= self.last_s - trend_s]
        up = np.mean([r.pose.axis_px[1] - r.pose.axis_px[0] for r in recent], axis=0)
        hips = self.expected_px(file_time_s, trend_s=trend_s)[0]
        return region_from_axis(np.array([hips, hips + up]))


class Follower:
    """Takes the pictures of a clip one by one and keeps all bodies seen in them."""

    def __init__(self, model: PoseModel, *, settings: FollowSettings) -> None:
        self.ended: list[Body] = []
        self.most_at_once = 0
        self._model = model
        self._settings = settings
        self._live: list[Body] = []
        self._next_search_s = -np.inf
        self._next_probe_s = -np.inf
        self._in_vain = 0

    def bodies(self) -> list[Body]:
        """Everybody seen so far."""
        return [*self.ended, *self._live]

    def take(self, picture: TimedPicture) -> None:
        """Look at the next picture."""
        strangers = [self._go_on(body, picture) for body in self._live]
        self._part(picture.index)
        self._retire(picture.file_time_s)
        self._begin([region for region in strangers if region is not None], picture)
        self._probe(picture)
        self._search(picture)
        here = [b for b in self._live if b.rows[-1].frame_index == picture.index]
        self.most_at_once = max(self.most_at_once, sum(not body.is_young for body in here))

    def _go_on(self, body: Body, picture: TimedPicture) -> Region | None:
        """Give the body its next pose; where that is somebody else's, say where they are."""
        settings, now_s = self._settings, picture.file_time_s
        region = body.next_region(now_s, trend_s=settings.trend_s)
        pose = self._model.landmarks(picture, region)
        if pose is None or not _is_inside(pose.axis_px[0], picture):
            return None
        expected_px = body.expected_px(now_s, trend_s=settings.trend_s)[2:]
        radius_px = body.radius_px()
        misfit = _apart_px(pose.px[TRUNK], expected_px) / radius_px / self._allowed(body, now_s)
        ratio = _radius_px(pose) / _radius_px(body.rows[-1].pose)
        if misfit > 1 or not 1 / settings.size_ratio < ratio < settings.size_ratio:
            return region_from_axis(pose.axis_px)
        body.rows.append(Seen(picture.index, now_s, pose, misfit))
        return None

    def _allowed(self, body: Body, now_s: float) -> float:
        """Radii by which the trunk may miss its expected place."""
        settings = self._settings
        if body.is_young:
            return settings.young_jump_radii
        elapsed_s = min(now_s - body.last_s, 0.1)
        return settings.jump_radii + settings.jump_radii_per_s2 * elapsed_s**2

    def _part(self, index: int) -> None:
        """Where two bodies took one pose, leave it to the one whose path it continues."""
        here = [body for body in self._live if body.rows[-1].frame_index == index]
        here.sort(key=lambda body: (body.is_young, body.rows[-1].misfit))
        kept: list[Body] = []
        for body in here:
            if any(self._same(body.rows[-1].pose, other) for other in kept):
                body.rows.pop()
            else:
                kept.append(body)
        self._live = [body for body in self._live if body.rows]

    def _same(self, pose: Landmarks, body: Body) -> bool:
        near = self._settings.same_radii * min(_radius_px(pose), body.radius_px())
        return _apart_px(pose.px[_BODY], body.rows[-1].pose.px[_BODY]) < near

    def _begin(self, regions: Sequence[Region], picture: TimedPicture) -> None:
        """Start a body in each region where a pose holds still under a second look."""
        for region in regions:
            room = len(self._live) < self._settings.bodies_at_once
            if not room or self._is_known(region, picture.index):
                continue
            pose = self._settled(region, picture)
            here = [body for body in self._live if body.rows[-1].frame_index == picture.index]
            if pose is not None and not any(self._same(pose, body) for body in here):
                self._live.append(Body([Seen(picture.index, picture.file_time_s, pose)]))

    def _settled(self, region: Region, picture: TimedPicture) -> Landmarks | None:
        """Look again where the first look says the body is, until the pose holds still."""
        before = None
        for _ in range(_LOOKS):
            pose = self._model.landmarks(picture, region)
            if pose is None or not _is_inside(pose.axis_px[0], picture):
                return None
            near = self._settings.settled_radii * _radius_px(pose)
            if before is not None and _apart_px(pose.px[_BODY], before.px[_BODY]) < near:
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
        deepest = 1 if self._live else settings.deepest
        for level, regions in enumerate(search_people(self._model, picture, deepest=deepest)):
            self._begin(regions, picture)
            if self._live and level > 0:
                break
        self._in_vain = 0 if self._live else self._in_vain + 1
        rest_s = settings.deep_search_every_s * 1.5 ** (self._in_vain - 1)
        wait_s = min(rest_s, settings.deep_search_rest_s)
        self._next_search_s = now_s + (settings.search_every_s if self._live else wait_s)

    def _is_known(self, region: Region, index: int) -> bool:
        """Tell whether somebody is already followed in this region."""
        for body in self._live:
            latest = body.rows[-1]
            radius_px = _radius_px(latest.pose)
            apart_px = np.hypot(*(latest.pose.axis_px[0] - region.centre_px))
            alike = 0.5 < region.size_px / region_from_axis(latest.pose.axis_px).size_px < 2.0
            if latest.frame_index == index and apart_px < 0.3 * radius_px and alike:
                return True
        return False


def _is_inside(hips_px: Floats, picture: Picture) -> bool:
    """Tell whether the middle of the hips is in the picture; beyond its edge poses are guesses."""
    return bool(0 <= hips_px[0] <= picture.width_px and 0 <= hips_px[1] <= picture.height_px)


def _radius_px(pose: Landmarks) -> float:
    return float(np.hypot(*(pose.axis_px[1] - pose.axis_px[0])))


def _apart_px(one: Floats, other: Floats) -> float:
    """Median distance over points, which one pair that is swapped does not move."""
    return float(np.median(np.hypot(*(one - other).T)))
