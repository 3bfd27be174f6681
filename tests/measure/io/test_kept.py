"""Strips of pictures kept from the first pass: about the feet, under a cap, the quiet ones last."""

from __future__ import annotations

from collections.abc import Callable

import av
import numpy as np
import pytest

from measure.io.bodies import Body, Seen
from measure.io.feet_seen import ABOVE_RADII, BELOW_RADII, SIDE_RADII
from measure.io.frame import Frame
from measure.io.kept import KeptStrips
from measure.io.pose import Landmarks
from measure.types import FOOT_LANDMARKS, Landmark

WIDTH, HEIGHT, RATE_HZ, RADIUS_PX = 640, 360, 60.0, 100.0
FLOOR_PX, TOE_PX = 300.0, 30.0
Way = Callable[[float], tuple[float, float]]


def _stands(time_s: float) -> tuple[float, float]:
    return 320.0, FLOOR_PX


def _jumps(time_s: float) -> tuple[float, float]:
    """Half a second in the air, a second after the start."""
    into_s = time_s - 1.0
    rise = 545 * into_s * (0.5 - into_s) if 0 < into_s < 0.5 else 0.0
    return 320.0, FLOOR_PX - rise


def _runs(time_s: float) -> tuple[float, float]:
    return 120.0 + 200.0 * time_s, FLOOR_PX


def _pose(feet_px: tuple[float, float]) -> Landmarks:
    x, y = feet_px
    px = np.tile([x, y - 90.0], (len(Landmark), 1))
    for foot in FOOT_LANDMARKS.values():
        px[foot.heel], px[foot.toe] = (x - TOE_PX / 2, y), (x + TOE_PX / 2, y)
    axis_px = np.array([[x, y - 90.0], [x, y - 90.0 - RADIUS_PX]])
    shape = (len(Landmark),)
    return Landmarks(px, np.ones(shape), np.zeros((*shape, 3)), 1.0, axis_px)


def _frame(index: int) -> Frame:
    picture = av.VideoFrame(WIDTH, HEIGHT, "yuv420p")
    for plane in picture.planes:
        plane.update(bytes([index % 256]) * plane.buffer_size)
    return Frame(index, index / RATE_HZ, 0, picture)


def _watched(way: Way, duration_s: float, *, cap_bytes: float = 1e9) -> KeptStrips:
    """Show every picture and tell of every pose, picture by picture."""
    kept = KeptStrips(WIDTH, interval_s=1 / RATE_HZ, cap_bytes=cap_bytes)
    body = Body()
    for index in range(round(duration_s * RATE_HZ)):
        kept.take(_frame(index))
        body.rows.append(Seen(index, index / RATE_HZ, _pose(way(index / RATE_HZ))))
        kept.see([body])
    return kept


def _all_of(kept: KeptStrips, box: tuple[int, int, int, int], count: int) -> list[int]:
    return sorted(kept.claim({index: [box] for index in range(count)}))


def _size_bytes(kept: KeptStrips) -> int:
    return sum(part.size_bytes for part in kept._parts.values())


def test_nothing_is_kept_before_somebody_is_known() -> None:
    kept = KeptStrips(WIDTH, interval_s=1 / RATE_HZ)
    kept.take(_frame(0))
    kept.see([])
    kept.see([Body([Seen(0, 0.0, _pose(_stands(0.0)))])])  # one pose only
    kept.take(_frame(1))
    assert kept.claim({0: [], 1: []}) == set()


def test_a_strip_holds_all_that_feet_in_place_need() -> None:
    kept = _watched(_jumps, 2.0)
    reach_px = round(SIDE_RADII * RADIUS_PX)
    above_px, below_px = round(ABOVE_RADII * RADIUS_PX), round(BELOW_RADII * RADIUS_PX)
    box = (320 - reach_px, 300 - above_px, 320 + reach_px, 300 + below_px)
    assert _all_of(kept, box, 120) == list(range(3, 120))


def test_what_is_handed_over_holds_the_pixels_of_its_picture() -> None:
    box = (300, 250, 340, 290)
    kept = _watched(_stands, 1.0)
    assert kept.claim({20: [box], 40: [box]}) == {20, 40}
    for index in (20, 40):
        part = kept.pop(index)
        np.testing.assert_array_equal(part.rgb_box(*box), _frame(index).rgb_box(*box))
    assert _size_bytes(kept) == 0


def test_what_is_not_claimed_is_forgotten() -> None:
    kept = _watched(_stands, 1.0)
    before_bytes = _size_bytes(kept)
    kept.claim({index: [] for index in range(20, 30)})
    assert 0 < _size_bytes(kept) < 0.25 * before_bytes
    kept.forget()
    assert _size_bytes(kept) == 0


def test_a_picture_that_does_not_hold_all_is_not_handed_over() -> None:
    wanted = {30: [(300, 250, 340, 290), (0, 0, 40, 40)], 31: [(300, 250, 340, 290)]}
    assert _watched(_stands, 1.0).claim(wanted) == {31}


def test_about_feet_that_move_along_there_is_ground_they_are_far_from() -> None:
    kept = _watched(_runs, 2.0)
    ahead = (400, 220, 520, 310)
    early = [index for index in _all_of(kept, ahead, 120) if _runs(index / RATE_HZ)[0] < 300]
    assert early[0] < 30
    assert early == list(range(early[0], early[-1] + 1))


def test_the_strip_goes_along_with_the_feet() -> None:
    kept = _watched(_runs, 2.0)
    for index in (20, 60, 100):
        x = round(_runs(index / RATE_HZ)[0])
        part = kept._parts[index]
        assert part.holds(x - 60, 220, x + 60, 310)


@pytest.mark.parametrize("duration_s", [4.0, 12.0])
def test_memory_has_a_cap_and_the_jump_stays(duration_s: float) -> None:
    cap_bytes = 80 * 1.5 * 2 * SIDE_RADII * (ABOVE_RADII + BELOW_RADII) * RADIUS_PX**2
    kept = _watched(_jumps, duration_s, cap_bytes=cap_bytes)
    assert 0.5 * cap_bytes < _size_bytes(kept) <= cap_bytes
    about_the_jump = set(range(round(0.9 * RATE_HZ), round(1.65 * RATE_HZ)))
    box = (270, 210, 370, 320)
    assert about_the_jump <= set(_all_of(kept, box, round(duration_s * RATE_HZ)))


def test_when_all_is_needed_nothing_more_is_kept() -> None:
    def _hops(time_s: float) -> tuple[float, float]:
        return 320.0, FLOOR_PX - 40 * abs(np.sin(2 * np.pi * time_s))

    cap_bytes = 1.2e6
    kept = _watched(_hops, 4.0, cap_bytes=cap_bytes)
    assert _size_bytes(kept) <= cap_bytes
    held = _all_of(kept, (270, 210, 370, 320), 240)
    assert held == list(range(3, held[-1] + 1))
    assert held[-1] < 120


def test_feet_out_of_the_picture_keep_nothing() -> None:
    kept = _watched(lambda _: (320.0, HEIGHT + 2 * RADIUS_PX), 0.5)
    assert kept.claim({10: []}) == set()
