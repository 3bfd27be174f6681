"""Sideways push-offs of drawn shoes: blocks that rise and go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from measure.sprint.lift_off import LiftOff, time_lift_off
from measure.sprint.stands import GroundMap, Stand
from measure.types import Instant

CELL_M = 0.016
PLACES_M = np.arange(0, 4, CELL_M)
LEAVES_S = 0.512
BODY_MPS = 2.5
HEEL_S = 0.09
"""Before it leaves, a foot that is seen from behind lifts its heel."""


def shuffled(
    rise_m: Callable[[float], float], *, rate_hz: float, way: int, leaves_s: float = LEAVES_S,
    place_m: float = 2.0, comes_s: float = -1.0, out_m: float = 0.0,
) -> tuple[GroundMap, Stand]:
    """A shoe 0.11 m wide and high that stands at a place and then goes along with the body.

    In the last 0.05 s before it goes it swings out backwards.
    """
    time_s = np.arange(0, 0.9, 1 / rate_hz)
    exposed_s = np.linspace(-0.002, 0.002, 5)
    rows_m = (np.arange(16) - 2 + 0.5) * CELL_M
    cells = np.zeros((time_s.size, rows_m.size, PLACES_M.size))
    for frame, at_s in enumerate(time_s):
        for moment_s in at_s + exposed_s:
            gone_m = way * BODY_MPS * max(0.0, moment_s - leaves_s)
            gone_m -= way * out_m * max(0.0, 1 - abs(moment_s - leaves_s) / 0.05)
            gone_m -= way * 9.0 * (moment_s < comes_s)
            across = np.clip(0.5 + (0.055 - np.abs(PLACES_M - place_m - gone_m)) / CELL_M, 0, 1)
            bottom_m = rise_m(moment_s - leaves_s)
            up = np.clip(0.5 + (rows_m - bottom_m) / CELL_M, 0, 1)
            up *= np.clip(0.5 + (bottom_m + 0.11 - rows_m) / CELL_M, 0, 1)
            cells[frame] += np.outer(up, across) / exposed_s.size
    flat = np.zeros((time_s.size, PLACES_M.size), np.float32)
    ground = GroundMap(
        time_s, PLACES_M, flat, np.zeros((time_s.size, 1, PLACES_M.size, 3), np.uint8),
        np.zeros(time_s.size, np.int64), (255 * cells).astype(np.uint8), CELL_M,
    )  # fmt: skip
    ends = Instant(leaves_s + 0.02, 0.01)
    return ground, Stand(Instant(0.2, 0.01), ends, place_m, ends)


def toes_last(since_s: float) -> float:
    """Seen from in front: the lowest part is the last to leave."""
    return 1.0 * max(0.0, since_s)


def heel_first(since_s: float) -> float:
    """Seen from behind: what looks lowest rises while the toes, behind it, still push."""
    return 0.12 * float(np.clip(1 + since_s / HEEL_S, 0, 1))


@pytest.mark.parametrize("rate_hz", [30, 60, 120])
@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("rise", "heels_seen"), [(toes_last, False), (heel_first, True)])
def test_a_push_off_is_timed_from_in_front_and_from_behind(
    rise: Callable[[float], float], heels_seen: bool, rate_hz: float, way: int
) -> None:
    ground, stand = shuffled(rise, rate_hz=rate_hz, way=way)
    seen = time_lift_off(ground, stand, others=(stand, stand), way=way)
    assert isinstance(seen, LiftOff)
    assert seen.heels_seen is heels_seen
    assert seen.leaves.time_s == pytest.approx(LEAVES_S, abs=0.012 + 0.1 / rate_hz)
    assert 0.006 < seen.leaves.sigma_s < 0.02


@pytest.mark.parametrize("way", [1, -1])
def test_the_other_foot_that_was_there_before_does_not_count(way: int) -> None:
    # It covers a place 6 cm farther back until the foot lies still, and the heel rises early.
    ground, stand = shuffled(heel_first, rate_hz=60, way=way)
    cells = ground.cells.copy()
    before = ground.time_s < 0.28
    cells[before] = np.maximum(cells, np.roll(cells, -way * 4, axis=2))[before]
    seen = time_lift_off(replace(ground, cells=cells), stand, others=(stand, stand), way=way)
    assert isinstance(seen, LiftOff)
    assert seen.leaves.time_s == pytest.approx(LEAVES_S, abs=0.012)


def test_a_shoe_that_goes_up_before_it_goes_sideways() -> None:
    # From in front: it leaves when it rises, as its neighbours tell, and not when it has gone.
    ground, stand = shuffled(lambda since_s: 1.0 * max(0.0, since_s + 0.04), rate_hz=60, way=1)
    others, earlier = shuffled(toes_last, rate_hz=60, way=1)
    both = GroundMap(
        np.concatenate([others.time_s, others.time_s[-1] + 1 / 60 + ground.time_s]), PLACES_M,
        np.concatenate([others.covered, ground.covered]),
        np.concatenate([others.rgb, ground.rgb]), np.concatenate([others.left, ground.left]),
        np.concatenate([others.cells, ground.cells]), CELL_M,
    )  # fmt: skip
    later_s = others.time_s[-1] + 1 / 60
    ends = Instant(stand.end.time_s + later_s, 0.01)
    last = Stand(Instant(0.2 + later_s, 0.01), ends, 2.0, ends)
    seen = time_lift_off(both, last, others=(earlier, earlier), way=1)
    assert isinstance(seen, LiftOff)
    assert seen.leaves.time_s - later_s == pytest.approx(LEAVES_S - 0.04, abs=0.015)


def test_a_foot_that_swings_its_heel_out_before_it_goes() -> None:
    ground, stand = shuffled(lambda since_s: 0.0, rate_hz=120, way=1, out_m=0.06)
    seen = time_lift_off(ground, stand, others=(), way=1)
    assert isinstance(seen, LiftOff)
    assert seen.leaves.time_s == pytest.approx(LEAVES_S, abs=0.009)


def test_a_foot_that_came_down_where_the_other_had_just_stood() -> None:
    other, _ = shuffled(lambda since_s: 0.0, rate_hz=60, way=1, leaves_s=0.35, place_m=2.02)
    ground, stand = shuffled(lambda since_s: 0.0, rate_hz=60, way=1, comes_s=0.41)
    both = replace(ground, cells=np.maximum(ground.cells, other.cells))
    seen = time_lift_off(both, stand, others=(), way=1)
    assert isinstance(seen, LiftOff)
    assert seen.leaves.time_s == pytest.approx(LEAVES_S, abs=0.015)


def test_few_feet_do_not_tell_which_way_the_body_faces() -> None:
    ground, stand = shuffled(toes_last, rate_hz=60, way=1)
    seen = time_lift_off(ground, stand, others=(), way=1)
    assert isinstance(seen, LiftOff)
    assert seen.heels_seen is None


def test_a_shoe_that_stays_or_is_not_in_view_is_not_timed() -> None:
    ground, stand = shuffled(lambda since_s: 0.0, rate_hz=60, way=1, leaves_s=5.0)
    early = Stand(stand.start, Instant(0.6, 0.01), 2.0, stand.lifts)
    assert time_lift_off(ground, early, others=(), way=1) is None
    away = Stand(stand.start, Instant(0.6, 0.01), 9.0, stand.lifts)
    assert time_lift_off(ground, away, others=(), way=1) is None
