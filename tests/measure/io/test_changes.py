"""Repeated pictures, exact and encoded anew, differ from new ones."""

import numpy as np
import pytest

from measure.io.changes import measure_changes
from measure.io.read import open_clip
from tests.clip_files import moving_square, timing_file, write_film


def scene(position, noise=0.0, seed=0):
    """A small grey picture with a light square and, if wanted, grain."""
    picture = np.full((96, 128), 90.0)
    picture[40:52, position : position + 12] = 200
    picture += np.random.default_rng(seed).normal(0, noise, picture.shape)
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def test_an_exact_repeat_changes_nothing():
    pictures = [scene(10, 2, seed=1)] * 2 + [scene(13, 2, seed=2)] * 2
    changes = measure_changes(pictures)
    assert changes.motion_level.tolist()[::2] == [0, 0]
    assert changes.noise_level.tolist()[::2] == [0, 0]
    assert changes.motion_level[1] > 10 * changes.noise_level[1] > 0


def test_a_known_change_has_its_level():
    before = np.full((80, 80), 100, np.uint8)
    now = before.copy()
    now[:8, :8] = 140  # one block of a hundred, falling
    now[8:, :] = 97
    changes = measure_changes([before, now])
    assert changes.noise_level == pytest.approx([3.0])
    assert 3 < changes.motion_level[0] <= 40


def test_noise_alone_moves_both_levels_alike():
    changes = measure_changes([scene(10, 3, seed=k) for k in range(20)])
    expected = 3 * np.sqrt(2) * np.sqrt(2 / np.pi)  # mean absolute difference of two normals
    assert changes.noise_level == pytest.approx(expected, rel=0.1)
    assert np.all(changes.motion_level < 1.6 * changes.noise_level)


def test_motion_stands_out_of_noise():
    changes = measure_changes([scene(10 + 3 * k, 2, seed=k) for k in range(20)])
    assert np.all(changes.motion_level > 5 * changes.noise_level)


def test_no_pair_no_change():
    assert measure_changes([]).motion_level.shape == (0,)
    assert measure_changes([scene(3)]).noise_level.shape == (0,)


def test_pictures_of_different_sizes_are_a_wrong_call():
    with pytest.raises(ValueError, match="equal sizes"):
        measure_changes([np.zeros((80, 80), np.uint8), np.zeros((80, 88), np.uint8)])


@pytest.mark.parametrize("codec", ["libx264", "libx265"])
def test_repeats_of_a_film_stand_apart_after_compression(tmp_path, codec):
    random = np.random.default_rng(1)
    shown = []
    for picture in moving_square(30):
        grain = random.normal(0, 2, picture.shape)
        shown += [np.clip(picture + grain, 0, 255).astype(np.uint8)] * 2
    path = write_film(
        tmp_path / "twice.mp4", shown, ticks=[3000 * k for k in range(60)], codec=codec
    )
    with open_clip(path) as clip:
        changes = measure_changes(frame.grey_small(4) for frame in clip.frames())
    repeats, new = changes.motion_level[0::2], changes.motion_level[1::2]
    assert repeats.max() < 0.2 * new.min()


def test_the_middle_of_the_mixed_timing_file_shows_every_picture_twice(tmp_path):
    with open_clip(timing_file(tmp_path, "d")) as clip:
        changes = measure_changes(frame.grey_small(4) for frame in clip.frames())
    repeated = changes.motion_level < 0.1 * np.median(changes.motion_level)
    assert np.flatnonzero(repeated).tolist() == list(range(16, 32, 2))
