"""The strip along the ground: a shoe covers it, a shadow does not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane import fit_lane
from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from measure.io.ground_strip import GroundStrip
from measure.sprint.trace import RunTrace
from tests.calibration.lanes import camera, survey
from tests.measure.io.lane_pictures import ground

AT_M = 9.0
TIME_S = np.array([0.0, 5.0])
TRACE = RunTrace(TIME_S, np.array([AT_M, AT_M]), 0.0, 5.0)


@dataclass(frozen=True)
class Still:
    """A frame of one picture."""

    picture: NDArray[np.uint8]

    def rgb_box(self, left: int, top: int, right: int, bottom: int) -> NDArray[np.uint8]:
        return self.picture[top:bottom, left:right]


def covered(picture: NDArray[np.uint8], empty: NDArray[np.uint8]) -> tuple[float, float]:
    """Largest cover within 0.2 m of the runner, and beyond."""
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    strip = GroundStrip(lane, TRACE, empty)
    strip.keep(Still(picture), 1.0)  # type: ignore[arg-type]
    kept = strip.map()
    assert kept is not None
    near = np.abs(kept.distance_m - AT_M) < 0.2
    return float(kept.covered[0, near].max()), float(kept.covered[0, ~near].max())


def at_runner(width_m: float) -> tuple[slice, slice]:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    ends_m = np.array([AT_M - width_m / 2, AT_M + width_m / 2])
    (x0, low), (x1, _) = picture_from_lane(lane, ends_m, np.zeros(2))
    high = picture_from_lane(lane, np.array(AT_M), np.array(0.12))[1]
    return slice(int(high), int(low) + 1), slice(int(x0), int(x1))


def test_a_shoe_covers_the_ground_and_its_shadow_does_not() -> None:
    empty = ground()
    shoe, shade = empty.copy(), empty.copy()
    shoe[at_runner(0.28)] = (235, 40, 60)
    shade[at_runner(0.28)] = (0.55 * shade[at_runner(0.28)]).astype(np.uint8)
    on_shoe, beside = covered(shoe, empty)
    assert on_shoe > 0.9
    assert beside < 0.1
    assert covered(shade, empty)[0] < 0.2
    assert covered(empty, empty) == (0.0, 0.0)


def test_nothing_kept_is_no_map() -> None:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    assert GroundStrip(lane, TRACE, ground()).map() is None
