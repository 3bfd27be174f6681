"""What several threads look at together is what one thread sees, one after the other."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from measure.io import bodies
from measure.io.follow import Follower, FollowSettings
from measure.io.pose_landmarks import BundledPose
from measure.io.read import Frame, open_clip
from tests.benchmarks.phone_clips import PhoneClip, make_phone_clip
from tests.measure.io.test_athlete import Person, StagedFrame, StagedModel, jumping, walking


def _followed(pictures: list[Frame], side_by_side: Callable[..., object]) -> np.ndarray:
    follower = Follower(BundledPose(), settings=FollowSettings(), side_by_side=side_by_side)
    for first in range(0, len(pictures), 2):
        follower.take_together(pictures[first : first + 2])
    (body,) = follower.bodies()
    return np.array([row.pose.px for row in body.rows])


@pytest.mark.slow
def test_two_threads_give_the_same_poses(tmp_path: Path) -> None:
    path = make_phone_clip(tmp_path, PhoneClip("h264", 480, 60, 4, 0.4))
    with open_clip(path) as clip:
        pictures = list(clip.frames())
    alone = _followed(pictures, map)
    with ThreadPoolExecutor(2) as pool:
        assert np.array_equal(_followed(pictures, pool.map), alone)
    assert len(alone) >= len(pictures) - 1


def test_a_search_that_is_due_is_looked_at_together_with_the_poses() -> None:
    people = [Person(jumping()), Person(walking(1270, -60), radius_px=180)]
    together: list[list[object]] = []

    def side_by_side(function: Callable[..., object], *arguments: list[object]) -> list[object]:
        results = list(map(function, *arguments))
        together.append([type(result) for result in results])
        return results

    ahead = Follower(StagedModel(people), settings=FollowSettings(), side_by_side=side_by_side)
    alone = Follower(StagedModel(people), settings=FollowSettings())
    for first in range(0, 180, 2):
        pictures = [StagedFrame(k, k / 60) for k in (first, first + 1)]
        ahead.take_together(pictures)
        for picture in pictures:
            alone.take(picture)
    mixed = [types for types in together if list in types and len(set(types)) > 1]
    assert 5 <= len(mixed) <= 7  # a search each half second
    assert [len(body.rows) for body in ahead.bodies()] == [len(b.rows) for b in alone.bodies()]


def test_looking_back_works_nothing_out_again(monkeypatch: pytest.MonkeyPatch) -> None:
    worked_out: list[object] = []
    radius_px = bodies.circle_radius_px
    monkeypatch.setattr(
        bodies, "circle_radius_px", lambda pose: (worked_out.append(pose), radius_px(pose))[1]
    )
    person = Person(jumping())
    body = bodies.Body([bodies.Seen(k, k / 60, person.pose(k / 60)) for k in range(40)])
    assert len(worked_out) == 40
    assert body.radius_px() == pytest.approx(200)
    body.next_region(0.7, trend_s=0.06)
    assert len(worked_out) == 40
