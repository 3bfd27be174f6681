"""Follow every person in the picture from frame to frame, each in a region of their own.

A body is followed by placing the next region where its own recent motion leads. A pose that
jumps away from that prediction belongs to somebody else and is not taken: the body waits a
moment where it was expected, and the other pose starts a body of its own. Two bodies never share
one pose. Which body is the athlete is decided afterwards, from all of them.
"""

from __future__ import annotations

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

    jump_radii: float = 0.15
    """A pose farther than this from the prediction (median over trunk and legs) is not taken."""
    jump_radii_per_s2: float = 30.0
    """Added to it times the squared time since the last pose: what the body's own acceleration
    can do."""
    trend_s: float = 0.06
    """Recent motion that places the next region."""
    wait_s: float = 0.25
    """How long a body without a pose is waited for where it was expected."""
    probe_s: float = 3.0
    """How long after that somebody is still looked for at the same place."""
    probe_every_s: float = 0.1
    search_every_s: float = 0.5
    """Search of the whole picture while somebody is followed."""
    deep_search_every_s: float = 0.25
    """Search of enlarged parts too, while nobody is."""
    deepest: int = 3
    bodies_at_once: int = 4
    same_radii: float = 0.2
    """Two poses nearer than this (median over trunk and legs) are one person's."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One pose of a body."""

    frame_index: int
    file_time_s: float
    pose: Landmarks


@dataclass
class Body:
    """One person while followed without a break."""

    rows: list[Seen] = field(default_factory=list)

    @property
    def last_s(self) -> float:
        """File time of the latest pose."""
        return self.rows[-1].file_time_s

    def radius_px(self) -> float:
        """Median radius of the circle round the body over the latest poses."""
        axes = np.array([row.pose.axis_px for row in self.rows[-30:]])
        return float(np.median(np.hypot(*(axes[:, 1] - axes[:, 0]).T)))

    def expected_px(self, file_time_s: float) -> Floats:
        """Landmarks if the body goes on as in its two latest poses, shape (33, 2).

        Beyond the length of that step the body is taken to stand still: a guess of its speed is
        worth no more than that.
        """
        if len(self.rows) < 2:
            return self.rows[-1].pose.px
        before, last = self.rows[-2:]
        step_s = last.file_time_s - before.file_time_s
        ahead = min((file_time_s - last.file_time_s) / step_s, 2.0)
        return last.pose.px + (last.pose.px - before.pose.px) * ahead

    def next_region(self, file_time_s: float, *, trend_s: float) -> Region:
        """Region for the next pose: the hips' straight path, the body's recent size and turn."""
        recent = [row for row in self.rows[-30:] if row.file_time_s >= self.last_s - trend_s]
        recent = recent if len(recent) > 1 else self.rows[-2:]
        ago_s = np.array([row.file_time_s - self.last_s for row in recent])
        axes = np.array([row.pose.axis_px for row in recent])
        slope = np.polyfit(ago_s, axes[:, 0], 1)[0] if len(recent) > 1 else np.zeros(2)
        hips = axes[:, 0].mean(axis=0) - slope * ago_s.mean()
        hips = hips + slope * min(file_time_s - self.last_s, 2 * trend_s)
        up = np.mean(axes[:, 1] - axes[:, 0], axis=0)
        return region_from_axis(np.array([hips, hips + up]))


class Follower:
    """Takes the pictures of a clip one by one and keeps all bodies seen in them."""

    def __init__(self, model: PoseModel, *, settings: FollowSettings) -> None:
        self.ended: list[Body] = []
        self.most_at_once = 0
        self._model = model
        self._settings = settings
        self._live: list[Body] = []
        self._searched_s = -np.inf
        self._probed_s = -np.inf

    def bodies(self) -> list[Body]:
        """Everybody seen so far."""
        return [*self.ended, *self._live]

    def take(self, picture: TimedPicture) -> None:
        """Look at the next picture."""
        strangers = [self._go_on(body, picture) for body in self._live]
        self._part(picture)
        for pose in strangers:
            if pose is not None:
                self._begin(pose, picture)
        self._retire(picture.file_time_s)
        for region in self._candidates(picture):
            if self._is_known(region, picture.index):
                continue
            pose = self._model.landmarks(picture, region)
            if pose is not None:
                self._begin(pose, picture)
        here = sum(body.rows[-1].frame_index == picture.index for body in self._live)
        self.most_at_once = max(self.most_at_once, here)

    def _go_on(self, body: Body, picture: TimedPicture) -> Landmarks | None:
        """Give the body its next pose; a pose that is somebody else's is handed back."""
        settings = self._settings
        region = body.next_region(picture.file_time_s, trend_s=settings.trend_s)
        pose = self._model.landmarks(picture, region)
        if pose is None:
            return None
        elapsed_s = picture.file_time_s - body.last_s
        allowed = settings.jump_radii + settings.jump_radii_per_s2 * min(elapsed_s, 0.1) ** 2
        expected_px = body.expected_px(picture.file_time_s)
        if _distance_px(pose.px, expected_px) > allowed * body.radius_px():
            return pose
        body.rows.append(Seen(picture.index, picture.file_time_s, pose))
        return None

    def _part(self, picture: TimedPicture) -> None:
        """Where two bodies took one pose, leave it to the one whose path it continues."""
        here = [body for body in self._live if body.rows[-1].frame_index == picture.index]
        for k, one in enumerate(here):
            for other in here[k + 1 :]:
                if one.rows and other.rows and self._same(one, other, picture.index):
                    loser = min(one, other, key=lambda body: len(body.rows))
                    loser.rows.pop()
        self._live = [body for body in self._live if body.rows]

    def _same(self, one: Body, other: Body, index: int) -> bool:
        if not (one.rows[-1].frame_index == other.rows[-1].frame_index == index):
            return False
        near = self._settings.same_radii * min(one.radius_px(), other.radius_px())
        return _distance_px(one.rows[-1].pose.px, other.rows[-1].pose.px) < near

    def _begin(self, pose: Landmarks, picture: TimedPicture) -> None:
        body = Body([Seen(picture.index, picture.file_time_s, pose)])
        if len(self._live) >= self._settings.bodies_at_once:
            return
        if not any(self._same(body, other, picture.index) for other in self._live):
            self._live.append(body)

    def _retire(self, file_time_s: float) -> None:
        oldest_s = file_time_s - self._settings.wait_s
        self.ended += [body for body in self._live if body.last_s < oldest_s]
        self._live = [body for body in self._live if body.last_s >= oldest_s]

    def _candidates(self, picture: TimedPicture) -> list[Region]:
        """Places where somebody may be who is not followed."""
        settings, now_s = self._settings, picture.file_time_s
        regions: list[Region] = []
        every_s = settings.search_every_s if self._live else settings.deep_search_every_s
        if now_s - self._searched_s >= every_s:
            first = not self.bodies()
            depth = settings.deepest if not self._live else 0
            regions += search_people(self._model, picture, depth=depth, at_least=int(first))
            self._searched_s = now_s
        if now_s - self._probed_s >= settings.probe_every_s:
            missed = [body for body in self.ended if now_s - body.last_s < settings.probe_s]
            regions += [
                body.next_region(body.last_s, trend_s=settings.trend_s)
                for body in missed[-settings.bodies_at_once :]
            ]
            self._probed_s = now_s
        return regions

    def _is_known(self, region: Region, index: int) -> bool:
        for body in self._live:
            latest = body.rows[-1]
            radius = body.radius_px()
            apart = np.hypot(*(latest.pose.axis_px[0] - region.centre_px))
            alike = 0.5 < region.size_px / (2.5 * radius) < 2.0
            if latest.frame_index == index and apart < 0.3 * radius and alike:
                return True
        return False


def _distance_px(one: Floats, other: Floats) -> float:
    """Median distance over trunk and legs, which one swapped pair of legs does not move."""
    return float(np.median(np.hypot(*(one[_BODY] - other[_BODY]).T)))
