"""Which pixels are shoe: on light and dark ground, with a shadow, at either end of the foot."""

from __future__ import annotations

import numpy as np
import pytest

from measure.contacts.background import Background
from measure.contacts.patch import (
    SOFT_SHADOW,
    SUN_SHADOW,
    Mask,
    Patch,
    PatchRegion,
    ShadowLook,
    column_band,
    find_foot_end,
    first_patch,
    reassign_patch,
    shoe_masks,
    threshold_grey,
)
from tests.measure.contacts.drawn_shoe import (
    GROUND,
    PX_PER_M,
    SHAPE,
    SHOE_HIGH_PX,
    SHOE_LONG_PX,
    TOE_TIP,
    shoe_at,
)

BARE = Background(GROUND, np.ones(SHAPE, dtype=bool))
TOE = np.array([TOE_TIP[0] - 6, TOE_TIP[1] - 3])
HEEL = np.array([TOE_TIP[0] - SHOE_LONG_PX + 6, TOE_TIP[1] - 4])
REGION = PatchRegion(TOE, HEEL, PX_PER_M, height_m=0.06)


def _true_shoe() -> np.ndarray:
    return np.abs(shoe_at() - GROUND).max(axis=2) > 25


def _mirrored(picture: np.ndarray) -> np.ndarray:
    return np.ascontiguousarray(picture[:, ::-1])


def _first(
    picture: np.ndarray, background: Background, *, region: PatchRegion
) -> tuple[Patch, Mask, Mask] | None:
    masks = shoe_masks(picture, background)
    return first_patch(picture, masks, background, region=region)


def test_the_front_of_the_shoe_is_found() -> None:
    patch, changed, other = _first(shoe_at(), BARE, region=REGION) or pytest.fail("none")
    rows, columns = np.nonzero(patch.mask)
    assert (patch.mask & _true_shoe()).sum() > 0.95 * patch.mask.sum()
    assert columns.max() == pytest.approx(TOE_TIP[0], abs=2)
    assert rows.max() == pytest.approx(TOE_TIP[1], abs=2)
    assert columns.min() > TOE[0] - 0.05 * PX_PER_M - 1
    assert rows.min() > TOE_TIP[1] - 0.06 * PX_PER_M - 3
    assert changed.sum() > patch.mask.sum()
    assert not (patch.mask & other & ~changed).any()


def test_a_patch_knows_its_sole_its_middle_and_its_rim() -> None:
    patch, _, _ = _first(shoe_at(), BARE, region=REGION) or pytest.fail("none")
    assert patch.sole[:, 1] == pytest.approx(np.full(patch.sole.shape[0], TOE_TIP[1]), abs=2)
    assert patch.mask[tuple(np.round(patch.centre[::-1]).astype(int))]
    inside = patch.mask[patch.points[:, 1].astype(int), patch.points[:, 0].astype(int)]
    assert patch.opacity[inside].mean() > 0.85
    assert patch.opacity[~inside].mean() < 0.2
    assert 0.2 < inside.mean() < 0.9  # bare ground about the shoe takes part


def test_a_foot_that_points_left_is_its_mirror_image() -> None:
    background = Background(_mirrored(GROUND), BARE.seen)
    toe, heel = (np.array([SHAPE[1] - 1 - x, y]) for x, y in (TOE, HEEL))
    region = PatchRegion(toe, heel, PX_PER_M, height_m=0.06)
    left, _, _ = _first(_mirrored(shoe_at()), background, region=region) or pytest.fail("none")
    right, _, _ = _first(shoe_at(), BARE, region=REGION) or pytest.fail("none")
    assert (region.direction, REGION.direction) == (-1, 1)
    assert (_mirrored(left.mask) == right.mask).all()


def test_a_foot_that_points_at_the_camera_takes_both_sides() -> None:
    region = PatchRegion(TOE, TOE + np.array([3.0, -20.0]), PX_PER_M, height_m=0.06)
    assert region.direction == 0
    columns = np.flatnonzero(column_band(region, SHAPE)[0])
    assert columns.min() == pytest.approx(TOE[0] - 0.075 * PX_PER_M, abs=1)
    assert columns.max() == pytest.approx(TOE[0] + 0.075 * PX_PER_M, abs=1)


def test_bare_ground_is_no_shoe() -> None:
    rng = np.random.default_rng(1)
    picture = GROUND + rng.normal(0, 3, GROUND.shape).astype(np.float32)
    assert _first(picture, BARE, region=REGION) is None


def test_ground_never_seen_bare_is_left_out() -> None:
    seen = np.ones(SHAPE, dtype=bool)
    seen[:, int(TOE_TIP[0]) - 8 :] = False
    patch, _, _ = _first(
        shoe_at(), Background(GROUND, seen), region=PatchRegion(TOE - 9, HEEL, PX_PER_M, 0.06)
    ) or pytest.fail("none")
    assert not (patch.mask & ~seen).any()
    assert seen[patch.points[:, 1].astype(int), patch.points[:, 0].astype(int)].all()


@pytest.mark.parametrize(("light", "look"), [(0.7, SOFT_SHADOW), (0.4, SUN_SHADOW)])
def test_a_shadow_is_changed_ground_and_no_shoe(light: float, look: ShadowLook) -> None:
    shaded = shoe_at()
    rows = slice(int(TOE_TIP[1]) + 2, int(TOE_TIP[1]) + 12)
    shaded[rows, 60:150] *= light
    changed, shoe = shoe_masks(shaded, BARE, shadow=look)
    assert changed[rows, 62:148].mean() > 0.9
    assert shoe[rows, 62:148].mean() < 0.1
    assert shoe[_true_shoe()].mean() > 0.9
    forefoot, _ = find_foot_end(changed, shoe, region=REGION) or pytest.fail("none")
    assert np.nonzero(forefoot)[0].max() == pytest.approx(TOE_TIP[1], abs=2)


def test_a_noisy_picture_asks_for_a_larger_difference() -> None:
    rng = np.random.default_rng(2)
    noisy = GROUND + rng.normal(0, 4, GROUND.shape).astype(np.float32)
    assert threshold_grey(np.abs(GROUND - GROUND)) == pytest.approx(14.0)
    assert threshold_grey(np.abs(noisy - GROUND)) == pytest.approx(24.0, rel=0.05)
    assert threshold_grey(np.full_like(GROUND, 100)) == pytest.approx(30.0)


def test_pixels_are_given_to_what_moved_with_the_shoe() -> None:
    first, changed, other = _first(shoe_at(), BARE, region=REGION) or pytest.fail("none")
    front = first.mask & (np.arange(SHAPE[1])[None] > TOE_TIP[0] - 12)
    evidence = np.where(front, 20.0, -10.0)
    again = reassign_patch(shoe_at(), evidence, region=REGION, changed=changed, other=other)
    assert again is not None
    assert again.mask.sum() == pytest.approx(front.sum(), rel=0.1)
    assert not (again.mask & ~front).any()


def test_too_few_moving_pixels_make_no_patch() -> None:
    _, changed, other = _first(shoe_at(), BARE, region=REGION) or pytest.fail("none")
    evidence = np.full(SHAPE, -10.0)
    evidence[100:105, 100:105] = 20.0
    nothing = reassign_patch(shoe_at(), evidence, region=REGION, changed=changed, other=other)
    assert nothing is None


def test_the_height_of_the_patch_is_limited() -> None:
    low, _, _ = _first(
        shoe_at(), BARE, region=PatchRegion(TOE, HEEL, PX_PER_M, height_m=0.04)
    ) or pytest.fail("none")
    rows = np.nonzero(low.mask)[0]
    assert np.ptp(rows) <= 0.04 * PX_PER_M
    assert 0.04 * PX_PER_M < SHOE_HIGH_PX
