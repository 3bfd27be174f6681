"""Reading pictures between their pixels."""

from __future__ import annotations

import numpy as np
import pytest

from measure.contacts.sampling import (
    find_corners,
    largest_colour,
    read_corners,
    slopes,
    turned_places,
)


def sample(image: np.ndarray, places: list[list[float]]) -> np.ndarray:
    x, y = np.array(places).T
    return read_corners(image, find_corners(x, y, image))


def test_sampling_is_straight_between_pixels() -> None:
    image = np.arange(12, dtype=np.float32).reshape(3, 4, 1)
    assert sample(image, [[1.5, 0.5]])[0, 0] == pytest.approx(3.5)


def test_sampling_repeats_the_edges() -> None:
    image = np.arange(12, dtype=np.float32).reshape(3, 4, 1)
    outside = sample(image, [[-5.0, -5.0], [50.0, 50.0]])[:, 0]
    assert outside == pytest.approx([0.0, 11.0], abs=0.01)


def test_corners_of_some_places_are_theirs() -> None:
    image = np.random.default_rng(1).random((9, 11, 3), dtype=np.float32)
    x, y = np.random.default_rng(2).uniform(0, 8, (2, 20))
    corners, some = find_corners(x, y, image), np.array([3, 4, 17])
    assert np.array_equal(
        read_corners(image, corners.of(some)), read_corners(image, corners)[some]
    )


def test_the_largest_colour_is_that_of_each_pixel() -> None:
    colours = np.random.default_rng(3).normal(size=(4, 5, 3)).astype(np.float32)
    assert np.array_equal(largest_colour(colours), colours.max(axis=-1))


def test_turning_about_the_centre_moves_the_rim() -> None:
    places = turned_places(
        np.array([[2.0, 1.0]]), np.array([1.0, 1.0]), shift=np.array([0.0, 3.0]), turn=np.pi / 2
    )
    assert places[0] == pytest.approx([1.0, 5.0])


def test_slopes_of_a_slanted_plane_are_its_own() -> None:
    rows, columns = np.mgrid[:9, :11].astype(np.float32)
    picture = np.stack([2 * columns + 3 * rows, -columns, 5 * rows], axis=-1)
    right, down = (one[2:-2, 2:-2] for one in slopes(picture))
    assert right == pytest.approx(np.broadcast_to([2.0, -1.0, 0.0], (5, 7, 3)))
    assert down == pytest.approx(np.broadcast_to([3.0, 0.0, 5.0], (5, 7, 3)))
