"""Poses read two at once by two threads are those that one thread reads one after the other."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from measure.io.follow import Follower, FollowSettings
from measure.io.pose_landmarks import BundledPose
from measure.io.read import Frame, open_clip
from tests.benchmarks.phone_clips import PhoneClip, make_phone_clip


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
