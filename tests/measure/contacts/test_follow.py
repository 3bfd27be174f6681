"""Following a shoe-like patch over textured ground, moved by known parts of a pixel."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, shift

from measure.contacts.background import fit_background
from measure.contacts.follow import follow_patch, sample, turned_places, with_slopes
from measure.contacts.patch import cut_patch

SHAPE = (80, 90)
DISC_ROW, DISC_COLUMN, RADIUS = 50, 45, 12


def _textured(seed: int, contrast: float) -> np.ndarray:
    rng = np.random.default_rng(seed)
    grain = gaussian_filter(rng.normal(size=(*SHAPE, 3)), (1.5, 1.5, 0))
    return (110 + contrast * grain / grain.std()).astype(np.float32)


def _scene(moved_px: tuple[float, float]) -> np.ndarray:
    """A textured disc, moved, over textured ground."""
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    inside = ((rows - DISC_ROW) ** 2 + (columns - DISC_COLUMN) ** 2 < RADIUS**2).astype(float)
    inside = gaussian_filter(inside, 0.7)[..., None]
    shoe = _textured(2, 30) + 60
    by = (moved_px[1], moved_px[0], 0)
    moved_in, moved_shoe = shift(inside, by, order=3), shift(shoe, by, order=3, mode="nearest")
    return (moved_in * moved_shoe + (1 - moved_in) * _textured(1, 12)).astype(np.float32)


def test_known_shifts_come_back() -> None:
    moves = [(0.0, 0.0), (0.3, -0.8), (0.7, -2.4), (0.9, -5.1), (1.2, -8.6), (1.4, -12.3)]
    pictures = np.stack([_scene(move) for move in moves])
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    distance = np.hypot(rows - DISC_ROW, columns - DISC_COLUMN)
    patch = cut_patch(pictures[0], forefoot=distance < RADIUS - 1, rim=distance < RADIUS + 3)
    path = follow_patch(
        patch, with_slopes(_textured(1, 12)), with_slopes(pictures),
        time_s=np.arange(6) / 60, pose_shift_px=np.array(moves) + 1.5, reference_row=0,
        px_per_m=200.0,
    )  # fmt: skip
    assert path.shift_px == pytest.approx(np.array(moves), abs=0.15)
    assert np.abs(path.turn_rad).max() < 0.03


def test_the_ground_behind_a_passing_leg_comes_back() -> None:
    ground = _textured(1, 12)
    pictures = np.repeat(ground[None], 5, axis=0)
    covered = np.zeros((5, *SHAPE), dtype=bool)
    for k in range(5):
        columns = slice(15 * k, 15 * k + 20)
        pictures[k, :, columns] = 250
        covered[k, :, columns] = True
    covered[:, :3] = True
    found = fit_background(pictures, covered)
    assert found.picture[3:] == pytest.approx(ground[3:])
    assert not found.seen[:3].any()
    assert found.seen[3:].all()


def test_sampling_is_straight_between_pixels() -> None:
    image = np.arange(12, dtype=np.float32).reshape(3, 4, 1)
    assert sample(image, np.array([[1.5, 0.5]]))[0, 0] == pytest.approx(3.5)


def test_turning_about_the_centre_moves_the_rim() -> None:
    places = turned_places(
        np.array([[2.0, 1.0]]), np.array([1.0, 1.0]), shift=np.array([0.0, 3.0]), turn=np.pi / 2
    )
    assert places[0] == pytest.approx([1.0, 5.0])
