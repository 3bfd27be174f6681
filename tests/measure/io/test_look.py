"""The first pass: poses in the pixels of the first picture, and cameras that did not stay."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from measure.errors import NothingToMeasure
from measure.io.look import CameraPath, FirstLook, look_at_clip
from measure.io.read import open_clip
from measure.types import Landmark
from tests.clip_files import even_ticks, write_film
from tests.measure.io.test_athlete import Person, StagedModel

WIDTH, HEIGHT, COUNT, RATE_HZ = 640, 360, 60, 60.0
HIPS_PX = (320.0, 180.0)
Way = Callable[[int], tuple[int, int]]


def _still(number: int) -> tuple[int, int]:
    return 0, 0


def _sway(number: int) -> tuple[int, int]:
    return round(6 * np.sin(number / 5)), round(4 * np.sin(number / 7))


def _pan(number: int) -> tuple[int, int]:
    return 3 * number, 0


def _world(contrast: float, level: float) -> np.ndarray:
    shape = (HEIGHT + 200, WIDTH + 800)
    grain = gaussian_filter(np.random.default_rng(3).normal(size=shape), 4)
    grey = level + contrast * np.clip(grain / grain.std(), -2.5, 2.5)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def _look(
    folder: Path, way: Way, *, contrast: float = 40, level: float = 120,
    told: list[float] | None = None,
) -> FirstLook:  # fmt: skip
    """Somebody stands still while the camera goes its way over a world of blots."""
    world = _world(contrast, level)
    pictures = []
    for number in range(COUNT):
        x, y = way(number)
        pictures.append(world[100 - y : 100 - y + HEIGHT, 400 - x : 400 - x + WIDTH].copy())
    path = write_film(
        folder / "film.mp4", pictures, ticks=even_ticks(COUNT, RATE_HZ), encoder={"crf": "12"}
    )

    def hips_px(time_s: float) -> tuple[float, float]:
        x, y = way(round(time_s * RATE_HZ))
        return HIPS_PX[0] + x, HIPS_PX[1] + y

    model = StagedModel([Person(hips_px, radius_px=120.0)])
    with open_clip(path) as clip:
        return look_at_clip(clip, model, progress=None if told is None else told.append)


def test_a_still_camera_is_known_to_be_still(tmp_path: Path) -> None:
    told: list[float] = []
    look = _look(tmp_path, _still, told=told)
    assert look.camera.still
    assert look.frame_file_time_s == pytest.approx(np.arange(COUNT) / RATE_HZ, abs=1e-4)
    assert look.changes.motion_level.shape == (COUNT - 1,)
    assert look.brightness == pytest.approx(120, abs=8)
    assert look.athlete.seen_share == pytest.approx(1.0)
    assert (told[0] > 0, told[-1]) == (True, pytest.approx(1.0))


def test_a_swaying_camera_is_taken_out_of_the_poses(tmp_path: Path) -> None:
    look = _look(tmp_path, _sway)
    assert not look.camera.still
    assert look.camera.moved_px == pytest.approx(7.2, abs=1.5)
    hips = look.athlete.track.px[:, Landmark.LEFT_HIP]
    assert np.ptp(hips, axis=0).max() < 0.8
    for number in (0, 8, 31):
        first_from_picture = look.camera.at(number)
        assert first_from_picture[:, 2] == pytest.approx(-np.array(_sway(number)), abs=0.5)
        assert first_from_picture[:, :2] == pytest.approx(np.eye(2), abs=0.003)


def test_a_camera_that_pans_is_refused(tmp_path: Path) -> None:
    with pytest.raises(NothingToMeasure) as told:
        _look(tmp_path, _pan)
    assert "camera" in told.value.seen
    assert "Lean the phone" in told.value.remedy


def test_a_dark_clip_is_told_from_a_moving_camera(tmp_path: Path) -> None:
    with pytest.raises(NothingToMeasure, match="too dark"):
        _look(tmp_path, _pan, contrast=4, level=8)


def test_a_clip_without_anybody_is_refused(tmp_path: Path) -> None:
    pictures = [_world(40, 120)[:HEIGHT, :WIDTH]] * 20
    path = write_film(tmp_path / "empty.mp4", pictures, ticks=even_ticks(20, RATE_HZ))
    with open_clip(path) as clip, pytest.raises(NothingToMeasure, match="Nobody"):
        look_at_clip(clip, StagedModel([]))


def test_a_camera_is_known_between_the_frames_looked_at() -> None:
    first = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    later = np.array([[0.98, 0.02, 8.0], [-0.02, 0.98, -4.0]])
    camera = CameraPath(np.array([0, 4]), np.stack([first, later]), 5.0)
    assert camera.at(0) == pytest.approx(first)
    assert camera.at(1) == pytest.approx(0.75 * first + 0.25 * later)
    assert camera.at(9) == pytest.approx(later)
    assert not camera.still
