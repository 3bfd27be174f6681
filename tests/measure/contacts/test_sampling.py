"""Reading pictures between their pixels."""

from __future__ import annotations

import numpy as np
import pytest

from measure.contacts.sampling import sample, slopes, turned_places


def test_sampling_is_straight_between_pixels() -> None:
    image = np.arange(12, dtype=np.float32).reshape(3, 4, 1)
    assert sample(image, np.array([[1.5, 0.5]]))[0, 0] == pytest.approx(3.5)


def test_sampling_repeats_the_edges() -> None:
    image = np.arange(12, dtype=np.float32).reshape(3, 4, 1)
    outside = sample(image, np.array([[-5.0, -5.0], [50.0, 50.0]]))[:, 0]
    assert outside == pytest.approx([0.0, 11.0], abs=0.01)


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
