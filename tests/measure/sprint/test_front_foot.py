"""The foot in front, from drawn steps of which every other one stands a part of a pixel lower."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_place import picture_from_lane
from calibration.lane_values import Lane
from calibration.values import Refused
from measure.sprint.front_foot import FrontFoot, see_front_foot
from measure.sprint.stands import GroundMap, Stand
from measure.types import Instant
from tests.calibration.lanes import camera, survey

START_S, LEAVES_S, STEP_S = 1.0, 1.5, 0.24
ROWS, WIDE_M = 18, 0.28


def a_lane() -> Lane:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    return lane


def run(lane: Lane, *, even_px: float, way: int = 1) -> tuple[GroundMap, tuple[Stand, ...]]:
    """Twelve steps from a set position; the even ones, the rear foot's, stand so much lower."""
    rng = np.random.default_rng(4)
    places_m = np.linspace(-3, 22, 4000)
    px = picture_from_lane(lane, places_m, np.zeros(places_m.size))
    columns = np.arange(1920) + 0.5
    distance_m, line_y = (np.interp(columns, px[:, 0], each) for each in (places_m, px[:, 1]))
    beyond_px = line_y + 0.5 - np.floor(line_y + 0.5)
    time_s = np.arange(0.5, 5, 1 / 60)
    cells = np.zeros((time_s.size, ROWS, 1920))
    covered = np.zeros((time_s.size, 1920), np.float32)
    from_m = 0.0 if way > 0 else 18.0
    covered[time_s < LEAVES_S] = np.abs(distance_m - from_m) < WIDE_M / 2
    stands = []
    for step in range(12):
        start_s, place_m = LEAVES_S + 0.03 + STEP_S * step, from_m + way * (0.6 + 1.3 * step)
        edge_px = 2.5 - even_px * (step % 2 == 0) + rng.normal(0, 0.15)
        rows = (time_s > start_s) & (time_s < start_s + 0.14)
        foot = np.abs(distance_m - place_m) < WIDE_M / 2
        above = np.arange(ROWS)[:, None] + 1 - (edge_px - beyond_px[foot])
        cells[np.ix_(rows, np.arange(ROWS), np.flatnonzero(foot))] = np.clip(above, 0, 1)
        stands.append(Stand(
            Instant(start_s, 0.01), Instant(start_s + 0.14, 0.01), place_m, Instant(start_s, 0.01)
        ))  # fmt: skip
    ground = GroundMap(
        time_s, distance_m, covered, np.zeros((1, 1, 1, 3), np.uint8),
        np.zeros(time_s.size, np.int64), (255 * cells).astype(np.uint8), 0.012,
    )  # fmt: skip
    return ground, tuple(stands)


@pytest.mark.parametrize("hidden", [(), (0,), (0, 1), (4, 7)])
@pytest.mark.parametrize(("even_px", "way", "front"), [
    # To the right the right foot is the nearer one and stands lower. The rear foot steps first.
    (0.6, 1, "left"), (-0.6, 1, "right"), (0.6, -1, "right"), (-0.6, -1, "left"),
])  # fmt: skip
def test_the_rear_foot_takes_the_even_steps(
    even_px: float, way: int, front: str, hidden: tuple[int, ...]
) -> None:
    lane = a_lane()
    ground, stands = run(lane, even_px=even_px, way=way)
    seen = tuple(stand for k, stand in enumerate(stands) if k not in hidden)
    found = see_front_foot(ground, lane, seen, start_s=START_S, way=way)
    assert isinstance(found, FrontFoot), found
    assert found.foot == front
    assert 0.95 <= found.chance <= 1


def test_steps_that_stand_alike_tell_nothing() -> None:
    lane = a_lane()
    ground, stands = run(lane, even_px=0.05)
    said = see_front_foot(ground, lane, stands, start_s=START_S, way=1)
    assert isinstance(said, Refused)
    assert (said.what, "with a chance of" in said.reason) == ("start_foot", True)


def test_without_the_first_steps_nobody_knows_which_foot_is_which() -> None:
    lane = a_lane()
    ground, stands = run(lane, even_px=0.6)
    for few in (stands[:4], ()):
        assert isinstance(see_front_foot(ground, lane, few, start_s=START_S, way=1), Refused)
    unseen = see_front_foot(ground, lane, stands, start_s=0.2, way=1)
    assert isinstance(unseen, Refused)
    assert "first steps" in unseen.reason
    # A foot that leaves a step earlier was the rear one: the front foot was not seen to leave.
    early = ground.time_s > LEAVES_S - STEP_S
    ground.covered[early] = 0
    assert isinstance(see_front_foot(ground, lane, stands, start_s=START_S, way=1), Refused)
