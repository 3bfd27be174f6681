"""Stands of drawn feet: blocks that lie on a patterned ground and pass over it."""

from __future__ import annotations

import numpy as np
import pytest

from measure.sprint.stands import GroundMap, find_stands

COLUMN_M = 0.0125
TALL = 8


def walked(
    touches: list[tuple[float, float, float]], *, rate_hz: float, shadow: bool = False,
    tail: bool = False, cover: float = 1.0,
) -> GroundMap:  # fmt: skip
    """Feet 0.25 m long that stand at places (start, end, metres) and swing high in between.

    Only so much of their height differs enough from the ground to show.
    """
    rng = np.random.default_rng(3)
    time_s = np.arange(0, 2.2, 1 / rate_hz)
    distance_m = np.arange(0, 16, COLUMN_M)
    ground = rng.uniform(90, 130, (TALL, distance_m.size, 3))
    rgb = np.repeat(ground[None], time_s.size, axis=0)
    covered = np.zeros((time_s.size, distance_m.size), np.float32)
    for start_s, end_s, place_m in touches:
        columns = np.abs(distance_m - place_m) < 0.125
        # What a frame shows is the mean over its exposure: the ends fall between frames.
        share = np.clip((time_s - start_s) * rate_hz + 0.5, 0, 1)
        share *= np.clip((end_s - time_s) * rate_hz + 0.5, 0, 1)
        shoe = rng.uniform(180, 230, (TALL, int(columns.sum()), 3))
        lying = share[:, None, None, None]
        rgb[:, :, columns] = lying * shoe + (1 - lying) * rgb[:, :, columns]
        covered[:, columns] = np.maximum(covered[:, columns], cover * share[:, None])
        if tail:
            covered[time_s > end_s, np.flatnonzero(columns)[0]] = 0.6
    if shadow:
        for row, at_s in enumerate(time_s):
            covered[row, np.abs(distance_m - 7 * at_s) < 0.3] = 0.9
    return GroundMap(
        time_s, distance_m, covered, rgb.astype(np.uint8), np.zeros(time_s.size, np.int64),
        np.zeros((time_s.size, 1, distance_m.size), np.uint8), COLUMN_M,
    )  # fmt: skip


STEPS = [(0.3 + 0.22 * k, 0.42 + 0.22 * k, 2 + 1.6 * k) for k in range(7)]


@pytest.mark.parametrize("rate_hz", [30, 60, 120])
@pytest.mark.parametrize("tail", [False, True])
def test_stands_are_timed_between_frames(rate_hz: int, tail: bool) -> None:
    found = find_stands(walked(STEPS, rate_hz=rate_hz, tail=tail), from_s=0.1, until_s=2.1)
    assert len(found) == len(STEPS)
    for stand, (start_s, end_s, place_m) in zip(found, STEPS, strict=True):
        assert stand.start.time_s == pytest.approx(start_s, abs=0.45 / rate_hz)
        assert stand.end.time_s == pytest.approx(end_s, abs=0.45 / rate_hz)
        assert stand.distance_m == pytest.approx(place_m, abs=0.03)
        assert 0.005 < stand.start.sigma_s < 0.02


def test_feet_side_by_side_one_after_the_other_are_two_stands() -> None:
    # In a shuffle the trailing foot comes down beside the place that the other has just left.
    touches = [(0.5, 0.66, 4.0), (0.69, 0.85, 3.8)]
    found = find_stands(walked(touches, rate_hz=60), from_s=0.1, until_s=2.1)
    assert [round(each.start.time_s, 1) for each in found] == [0.5, 0.7]


def test_faint_shoes_are_seen_on_the_ground_and_behind_a_cone() -> None:
    # The cone, where the fourth foot stands, differs more from a shoe than the ground does; the
    # encoder leaves a shade of the cone for half a second.
    ground = walked(STEPS, rate_hz=60, cover=0.2)
    _, end_s, cone_m = STEPS[3]
    cone = np.abs(ground.distance_m - cone_m) < 0.06
    ground.covered[:, cone] *= 5
    after = (ground.time_s > end_s) & (ground.time_s < end_s + 0.5)
    ground.covered[np.ix_(after, cone)] = 0.25
    found = find_stands(ground, from_s=0.1, until_s=2.1)
    assert [stand.distance_m for stand in found] == pytest.approx(
        [place_m for *_, place_m in STEPS], abs=0.08
    )
    for stand, (start_s, end_s, _) in zip(found, STEPS, strict=True):
        assert stand.start.time_s == pytest.approx(start_s, abs=0.01)
        assert stand.end.time_s == pytest.approx(end_s, abs=0.02)


def test_what_passes_is_no_stand() -> None:
    assert find_stands(walked([], rate_hz=60, shadow=True), from_s=0.1, until_s=2.1) == ()


def test_stands_that_are_cut_off_are_left_out() -> None:
    found = find_stands(walked(STEPS, rate_hz=60), from_s=0.35, until_s=1.45)
    assert [round(stand.distance_m, 1) for stand in found] == [3.6, 5.2, 6.8, 8.4]


def test_a_shoe_of_the_grounds_colour_is_not_seen() -> None:
    ground = walked(STEPS, rate_hz=60)
    ground.rgb[:] = 110
    assert find_stands(ground, from_s=0.1, until_s=2.1) == ()


def test_a_clip_too_short() -> None:
    assert find_stands(walked(STEPS, rate_hz=60), from_s=0.3, until_s=0.35) == ()
