"""A pose track is checked at birth, all faults at once."""

from __future__ import annotations

import re
from dataclasses import FrozenInstanceError, replace

import numpy as np
import pytest

from measure.types import FOOT_LANDMARKS, Instant, Landmark, PoseTrack


def _track(rows: int = 4) -> PoseTrack:
    points = len(Landmark)
    return PoseTrack(
        np.arange(rows), np.arange(rows) / 60, np.zeros((rows, points, 2)),
        np.ones((rows, points)), np.zeros((rows, points, 3)), 1280, 720,
    )  # fmt: skip


def test_a_well_shaped_track_is_taken() -> None:
    assert _track().px.shape == (4, 33, 2)
    assert _track(0).px.shape == (0, 33, 2)


def test_all_wrong_shapes_are_told_at_once() -> None:
    with pytest.raises(ValueError, match="px: expected shape") as told:
        replace(_track(), px=np.zeros((4, 17, 2)), visibility=np.ones((3, 33)))
    assert "px: expected shape (4, 33, 2), got (4, 17, 2)" in str(told.value)
    assert "visibility: expected shape (4, 33), got (3, 33)" in str(told.value)


@pytest.mark.parametrize("times_s", [[0.0, 0.1, 0.1, 0.2], [0.0, 0.2, 0.1, 0.3]])
def test_time_goes_forward(times_s: list[float]) -> None:
    with pytest.raises(ValueError, match=re.escape("file_time_s: expected strictly increasing")):
        replace(_track(), file_time_s=np.array(times_s))


def test_left_and_right_legs_are_the_same_points_of_either_side() -> None:
    for name in ("hip", "knee", "ankle", "heel", "toe"):
        left = getattr(FOOT_LANDMARKS["left"], name)
        right = getattr(FOOT_LANDMARKS["right"], name)
        assert left.name.replace("LEFT", "RIGHT") == right.name
        assert left.name.endswith(name.upper())


def test_values_are_frozen() -> None:
    with pytest.raises(FrozenInstanceError):
        Instant(1.0, 0.1).time_s = 2.0  # type: ignore[misc]
