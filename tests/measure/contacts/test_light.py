"""Lamps that flicker: known bands over a drawn shoe, taken out again."""

from __future__ import annotations

import numpy as np
import pytest

from measure.contacts.judge import FootEvent
from measure.contacts.light import flickers, in_even_light, light_on
from measure.contacts.plan import EventKind
from measure.contacts.segment import time_event
from measure.io.cut import CutPictures
from tests.measure.contacts.drawn_shoe import (
    GROUND,
    INSTANT_S,
    RATE_HZ,
    event_pictures,
    plan_of,
    shoe_at,
)

LEVEL = GROUND.mean()


def _bands(count: int, *, share: float, upright: bool = False) -> np.ndarray:
    """Gain of each pixel under a lamp, shape (K, H, W, 1): less than half a band is in view."""
    rows, columns = GROUND.shape[:2]
    along = np.linspace(0, 2.0, columns if upright else rows)
    phase = 2.1 * np.arange(count)
    gain = 1 + share * np.sin(along + phase[:, None])
    return (gain[:, None, :, None] if upright else gain[:, :, None, None]) * np.ones_like(
        GROUND[None, ..., :1]
    )


@pytest.mark.parametrize("upright", [False, True])
def test_bands_are_taken_out_whatever_stands_before_the_ground(upright: bool) -> None:
    steady = np.stack([shoe_at((0.0, -3.0 * k), noise=2.0) for k in range(8)])
    banded = (steady * _bands(8, share=0.25, upright=upright)).astype(np.float32)
    assert np.abs(banded - steady).mean() > 0.08 * LEVEL
    even = in_even_light(banded, light_on(banded, GROUND))
    assert np.abs(even - steady).mean() < 0.015 * LEVEL
    assert flickers(banded, GROUND)
    assert not flickers(even, GROUND)


def test_a_shoe_that_leaves_is_no_flicker() -> None:
    pictures = np.stack([shoe_at((2.0 * k, -6.0 * k), noise=4.0) for k in range(10)])
    assert not flickers(pictures, GROUND)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("upright", [False, True])
def test_an_event_is_timed_under_a_lamp_that_flickers(kind: EventKind, upright: bool) -> None:
    """The ground behind the foot is only ever seen in that light, too."""
    steady = event_pictures(kind)
    bare = np.stack([GROUND] * 9)
    cut = CutPictures(
        pictures=_bytes(steady.pictures * _bands(len(steady.pictures), share=0.5,
                                                 upright=upright)),
        ground=_bytes(bare * _bands(9, share=0.5, upright=upright)),
        covers=[np.zeros(GROUND.shape[:2], dtype=bool)] * 9,
        time_s=steady.time_s, reference_row=steady.reference_row, toe_px=steady.toe_px,
        heel_px=steady.heel_px, px_per_m=steady.px_per_m,
    )  # fmt: skip
    timed = time_event(plan_of(kind, coarse_s=0.0), cut.ready(), 1 / RATE_HZ)
    assert isinstance(timed.event, FootEvent)
    assert timed.event.instant.time_s == pytest.approx(INSTANT_S, abs=0.002)


def _bytes(pictures: np.ndarray) -> list[np.ndarray]:
    return list(np.clip(np.rint(pictures), 0, 255).astype(np.uint8))
