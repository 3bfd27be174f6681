"""The bare ground behind a leg that moves."""

import numpy as np
import pytest

from measure.contacts.background import _LEGS, fit_background, legs_cover
from measure.types import Landmark

SHAPE = (40, 60)


def _ground(seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).uniform(40, 200, (*SHAPE, 3)).astype(np.float32)


def test_the_ground_behind_a_passing_leg_comes_back() -> None:
    ground = _ground()
    pictures = np.repeat(ground[None], 5, axis=0)
    covered = np.zeros((5, *SHAPE), dtype=bool)
    for k in range(5):
        columns = slice(10 * k, 10 * k + 15)
        pictures[k, :, columns] = 250
        covered[k, :, columns] = True
    found = fit_background(pictures, covered)
    assert found.picture == pytest.approx(ground)
    assert found.seen.all()


def test_ground_that_is_always_covered_is_marked_unseen() -> None:
    pictures = np.repeat(_ground()[None], 4, axis=0)
    pictures[:3, :5] = 250
    covered = np.zeros((4, *SHAPE), dtype=bool)
    covered[:, :5] = True
    found = fit_background(pictures, covered)
    assert not found.seen[:5].any()
    assert found.seen[5:].all()
    assert found.picture[:5] == pytest.approx(np.full((5, SHAPE[1], 3), 250.0))


def test_noise_is_averaged_out_and_a_passer_by_outvoted() -> None:
    ground, rng = _ground(), np.random.default_rng(2)
    pictures = ground + rng.normal(0, 4, (15, *SHAPE, 3)).astype(np.float32)
    pictures[4:7] = 20  # somebody walks through, and no pose knows
    found = fit_background(pictures, np.zeros((15, *SHAPE), dtype=bool))
    error = found.picture - ground
    assert np.sqrt((error**2).mean()) < 2.5
    assert found.picture.dtype == np.float32


def test_what_lies_near_a_leg_is_covered_and_the_rest_is_not() -> None:
    px = np.full((len(Landmark), 2), np.nan)
    px[Landmark.LEFT_KNEE], px[Landmark.LEFT_ANKLE] = (130.0, 180.0), (130.0, 220.0)
    covered = legs_cover(px, origin_px=(100.0, 200.0), shape=SHAPE, reach_px=9.0)
    assert covered.shape == SHAPE
    columns = np.arange(SHAPE[1]) + 0.5 + 100.0
    away = np.abs(columns - 130.0)
    assert covered[:20, away < 6].all()
    assert not covered[:, away > 12].any()
    assert not covered[32:].any()  # the leg ends at the ankle


def test_points_that_are_not_seen_cover_nothing() -> None:
    nothing = np.full((len(Landmark), 2), np.nan)
    assert not legs_cover(nothing, origin_px=(0.0, 0.0), shape=SHAPE, reach_px=9.0).any()


def test_cover_is_how_near_each_square_is_to_the_nearest_leg() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        px = rng.uniform(-40, 140, (len(Landmark), 2))
        px[rng.random(len(Landmark)) < 0.2] = np.nan
        covered = legs_cover(px, origin_px=(20.0, 30.0), shape=(40, 60), reach_px=9.0)
        y, x = np.mgrid[32:70:4, 22:80:4]
        middles = np.stack([x, y], axis=-1).astype(float)
        near = [_apart_px(middles, px[a], px[b]) < 9.0 for a, b in _LEGS]
        assert np.array_equal(covered[::4, ::4], np.any(near, axis=0))


def _apart_px(points: np.ndarray, a: np.ndarray, b: np.ndarray) -> np.ndarray:
    share = np.clip((points - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
    return np.linalg.norm(points - a - share[..., None] * (b - a), axis=-1)
