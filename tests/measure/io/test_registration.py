"""Where the camera points, before a world whose parts are not all as far away."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from measure.io.registration import CameraMoved, Registration

HEIGHT, WIDTH, BANDS = 240, 420, 30
SHIFT_PX = (4.0, -2.0)
Bytes = NDArray[np.uint8]


def _world(seed: int = 4) -> Bytes:
    grain = gaussian_filter(np.random.default_rng(seed).normal(size=(HEIGHT, WIDTH)), 2)
    return np.clip(120 + 40 * grain / grain.std(), 0, 255).astype(np.uint8)


def _moved(world: Bytes, apart_px: float) -> Bytes:
    """The world as a camera sees it that went sideways: bands near and far go apart."""
    own_px = np.random.default_rng(8).permutation(np.linspace(-apart_px, apart_px, BANDS))
    along = np.repeat(own_px, HEIGHT // BANDS)[:, None]
    rows, columns = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
    return np.asarray(
        cv2.remap(
            world, (columns - SHIFT_PX[0] - along).astype(np.float32), rows - SHIFT_PX[1],
            cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT,
        )
    )  # fmt: skip


@pytest.mark.parametrize("apart_px", [0.0, 2.0, 4.0])
def test_parts_that_are_not_as_far_away_go_apart(apart_px: float) -> None:
    world = _world()
    similarity = Registration(world, step=1).picture_from_first(_moved(world, apart_px))
    middle = np.array([WIDTH / 2, HEIGHT / 2])
    way = similarity[:, :2] @ middle + similarity[:, 2] - middle
    assert way == pytest.approx(SHIFT_PX, abs=0.1 + 0.15 * apart_px)


def test_another_place_is_not_laid_over_the_first() -> None:
    with pytest.raises(CameraMoved):
        Registration(_world(), step=1).picture_from_first(_world(seed=5))
