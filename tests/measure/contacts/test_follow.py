"""Following a shoe over textured ground, moved and turned by known parts of a pixel."""

from __future__ import annotations

import numpy as np
import pytest

from measure.contacts.follow import FollowSettings, PatchPath, follow_patch
from measure.contacts.patch import Patch, cut_patch
from measure.contacts.sampling import turned_places
from tests.measure.contacts.drawn_shoe import (
    CENTRE,
    GROUND,
    PX_PER_M,
    SHAPE,
    SHOE_HIGH_PX,
    TOE_TIP,
    shoe_at,
)

RISING = [(0.0, 0.0), (0.3, -0.8), (0.7, -2.4), (0.9, -5.1), (1.2, -8.6), (1.4, -12.3)]


def _patch() -> Patch:
    """The front half of the shoe, a pixel inside its outline, and the ground about it."""
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    ahead = columns > CENTRE[0]
    differs = np.abs(shoe_at() - GROUND).max(axis=2) > 20
    shoe = differs & ahead & (rows > TOE_TIP[1] - SHOE_HIGH_PX - 1)
    near = ahead & (columns < TOE_TIP[0] + 4)
    near &= (rows > TOE_TIP[1] - SHOE_HIGH_PX - 4) & (rows < TOE_TIP[1] + 4)
    return cut_patch(shoe_at(), forefoot=shoe, rim=near)


def _followed(
    pictures: list[np.ndarray], pose_shift_px: np.ndarray, *, rate_hz: float = 60.0,
    reference_row: int = 0, settings: FollowSettings | None = None,
) -> PatchPath:  # fmt: skip
    return follow_patch(
        _patch(), GROUND, np.stack(pictures),
        time_s=np.arange(len(pictures)) / rate_hz, pose_shift_px=pose_shift_px,
        reference_row=reference_row, px_per_m=PX_PER_M, settings=settings,
    )  # fmt: skip


def test_known_shifts_come_back_to_a_tenth_of_a_pixel() -> None:
    moves = np.array(RISING)
    path = _followed([shoe_at(move) for move in RISING], moves + 1.5)
    assert path.shift_px == pytest.approx(moves, abs=0.1)
    assert np.abs(path.turn_rad).max() < 0.01
    assert path.time_s == pytest.approx(np.arange(6) / 60)
    assert path.reference_row == 0


def test_noise_of_the_sensor_costs_little() -> None:
    rng = np.random.default_rng(3)
    moves = np.array(RISING)
    path = _followed([shoe_at(move, noise=4.0, rng=rng) for move in RISING], moves)
    assert path.shift_px == pytest.approx(moves, abs=0.25)


def test_backwards_in_time_it_works_as_well() -> None:
    falling = RISING[::-1]
    path = _followed([shoe_at(move) for move in falling], np.array(falling), reference_row=5)
    assert path.shift_px == pytest.approx(np.array(falling), abs=0.1)
    assert path.reference_row == 5


def test_known_turns_come_back() -> None:
    turns = np.array([0.0, 0.03, 0.07, 0.12, 0.18])
    middle = _patch().centre
    arm = middle - np.array(CENTRE)
    places = np.array([turned_places(middle[None], np.array(CENTRE), shift=np.zeros(2), turn=turn)
                       for turn in turns])[:, 0]  # fmt: skip
    path = _followed([shoe_at(turn_rad=turn) for turn in turns], places - middle)
    assert np.hypot(*arm) > 10  # so that the turn alone moves the patch
    assert path.turn_rad == pytest.approx(turns, abs=0.01)
    assert path.shift_px == pytest.approx(places - middle, abs=0.15)


def test_a_pose_that_errs_by_three_centimetres_misleads_nobody() -> None:
    moves = np.array(RISING)
    for error_m in ((0.03, 0.0), (-0.03, 0.0), (0.0, 0.03), (0.0, -0.03)):
        path = _followed([shoe_at(move) for move in RISING], moves + np.array(error_m) * PX_PER_M)
        assert path.shift_px == pytest.approx(moves, abs=0.1), error_m


def test_what_is_far_up_is_not_followed_further() -> None:
    moves = [(0.0, -8.0 * k) for k in range(10)]
    path = _followed(
        [shoe_at(move) for move in moves], np.array(moves), settings=FollowSettings(far_up_m=0.15)
    )
    assert path.time_s.shape[0] < 8
    assert path.shift_px[-1, 1] < -0.15 * PX_PER_M
    assert path.shift_px[-2, 1] >= -0.15 * PX_PER_M


def test_the_misfit_shows_that_the_shoe_is_gone() -> None:
    gone = [shoe_at(), shoe_at((0.2, -1.0)), GROUND.copy()]
    path = _followed(gone, np.array([(0.0, 0.0), (0.2, -1.0), (0.4, -3.0)]))
    assert path.misfit[2] > 5 * path.misfit[1]
