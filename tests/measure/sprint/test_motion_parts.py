"""Steps, turn, top speed, curve and deficit on known motions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.lane import fit_lane
from calibration.lane_values import Lane
from calibration.values import Estimate, Refused
from measure.sprint.feet import FeetPath
from measure.sprint.lift_off import LiftOff
from measure.sprint.path import HipPath
from measure.sprint.run_curve import fit_run_curve
from measure.sprint.speed import SpeedCurve
from measure.sprint.splits import change_of_direction_deficit_s
from measure.sprint.stands import GroundMap, Stand
from measure.sprint.steps import Steps, find_steps, steps_from_stands
from measure.sprint.top_speed import TopSpeed, read_top_speed
from measure.sprint.turn import Turn, time_turn
from measure.types import Instant
from tests.calibration.lanes import camera, survey
from tests.measure.sprint.runs import START_S, path_of, running_feet, sprint_m

TIME_S = np.arange(0, 5, 1 / 30)


@pytest.mark.parametrize("swapped", [False, True])
def test_steps_are_counted_whichever_foot_is_which(swapped: bool) -> None:
    path = path_of(TIME_S, 7 * TIME_S)
    feet = running_feet(TIME_S, path.distance_m, frequency_hz=4.2, from_s=0.0, swapped=swapped)
    steps = find_steps(feet, path, from_s=1.0, until_s=4.0)
    assert isinstance(steps, Steps)
    assert steps.frequency_hz.value == pytest.approx(4.2, abs=0.05)
    assert steps.length_m.value == pytest.approx(7 / 4.2, rel=0.015)
    assert steps.time_s.size == pytest.approx(3.0 * 4.2, abs=2)
    np.testing.assert_allclose(np.diff(steps.distance_m), 7 / 4.2, atol=0.35)


def test_steps_by_their_stands_with_one_hidden() -> None:
    path = path_of(TIME_S, 7 * TIME_S)
    stands = tuple(stand(1 + k / 4, 1.12 + k / 4, 7 + 1.75 * k) for k in range(10) if k != 4)
    steps = steps_from_stands(stands, path)
    assert isinstance(steps, Steps)
    assert steps.count == 10
    assert steps.frequency_hz.value == pytest.approx(4.0)
    assert steps.length_m.value == pytest.approx(1.75)
    assert isinstance(steps_from_stands(stands[::3], path), Refused)


@pytest.mark.parametrize("at_s", [2.33, 2.42])
def test_what_flickers_between_two_steps_is_no_step(at_s: float) -> None:
    path = path_of(np.arange(0, 5, 1 / 30), 7 * np.arange(0, 5, 1 / 30))
    feet = [stand(1 + k / 4, 1.12 + k / 4, 7 + 1.75 * k) for k in range(10)]
    flicker = stand(at_s, at_s + 0.08, 7 * at_s)
    steps = steps_from_stands(
        tuple(sorted([*feet, flicker], key=lambda each: each.start.time_s)), path
    )
    assert isinstance(steps, Steps)
    assert (steps.count, steps.frequency_hz.value) == (10, pytest.approx(4.0))


def test_few_steps_are_refused() -> None:
    path = path_of(TIME_S, 7 * TIME_S)
    feet = running_feet(TIME_S, path.distance_m, frequency_hz=4.2, from_s=0.0)
    assert isinstance(find_steps(feet, path, from_s=1.0, until_s=1.5), Refused)
    assert isinstance(find_steps(feet, path, from_s=1.0, until_s=1.1), Refused)


def test_steps_of_a_body_that_the_model_often_misses_are_refused() -> None:
    path = path_of(TIME_S, 7 * TIME_S)
    feet = running_feet(TIME_S, path.distance_m, frequency_hz=4.2, from_s=0.0)
    seen = np.random.default_rng(2).random(TIME_S.size) < 0.6
    some = path_of(TIME_S[seen], 7 * TIME_S[seen])
    fewer = FeetPath(
        TIME_S[seen], {foot: places[seen] for foot, places in feet.distance_m.items()},
        {foot: level[seen] for foot, level in feet.clearance_m.items()},
        {foot: level[seen] for foot, level in feet.ground_m.items()},
    )  # fmt: skip
    said = find_steps(fewer, some, from_s=1.0, until_s=4.5)
    assert isinstance(said, Refused)
    assert "Too little" in said.reason


def turning(mirrored: bool) -> tuple[HipPath, FeetPath]:
    """A shuffle along the lane that turns into a run about 2.25 s."""
    time_s = np.arange(0, 4, 1 / 30)
    hips_m = np.where(time_s < 2.2, 2 * time_s, 4.4 + 5 * (time_s - 2.2))
    leading, trailing = ("right", "left") if mirrored else ("left", "right")
    feet = running_feet(time_s, hips_m, frequency_hz=1.0, from_s=0.0)
    feet = replace(feet, distance_m={leading: hips_m + 0.3, trailing: hips_m - 0.3})
    return replace(path_of(time_s, hips_m), profile=np.where(time_s < 2.25, 0.1, 0.95)), feet


def stand(start_s: float, end_s: float, distance_m: float) -> Stand:
    return Stand(Instant(start_s, 0.01), Instant(end_s, 0.01), distance_m, Instant(end_s, 0.01))


SHUFFLE_AND_RUN = (
    stand(1.5, 1.70, 2.8), stand(1.64, 1.85, 3.7), stand(1.78, 2.0, 3.5), stand(1.95, 2.36, 4.6),
    stand(2.4, 2.56, 5.7), stand(2.63, 2.77, 6.9),
)  # fmt: skip


TO_RIGHT_M = np.linspace(0, 9, 10)


def bare_ground(places_m: np.ndarray) -> GroundMap:
    """Nothing stands on it; its columns lie at these places."""
    return GroundMap(
        np.zeros(1), places_m, np.zeros((1, 10), np.float32), np.zeros((1, 1, 10, 3), np.uint8),
        np.zeros(1, np.int64), np.zeros((1, 1, 10), np.uint8), 0.016,
    )  # fmt: skip


@pytest.mark.parametrize(("mirrored", "side"), [(False, "left"), (True, "right")])
def test_a_turn_from_the_trailing_foots_push_off_to_its_touchdown(
    mirrored: bool, side: str
) -> None:
    turn = time_turn(*turning(mirrored), SHUFFLE_AND_RUN)
    assert isinstance(turn, Turn), turn
    assert (turn.side, turn.start.time_s, turn.end.time_s) == (side, 2.0, 2.4)
    assert turn.time_s == pytest.approx(0.4)
    assert turn.sigma_s < 0.03


def test_feet_that_close_up_to_one_place_look_like_one_and_are_no_turn() -> None:
    # Both feet of a step seen as one long stand; the body looks turned late or early.
    closing = (
        stand(1.25, 1.59, 2.5), stand(1.61, 1.95, 3.4), stand(1.97, 2.33, 4.4),
        stand(2.36, 2.53, 5.4), stand(2.58, 2.74, 6.4), stand(2.80, 2.95, 7.6),
    )  # fmt: skip
    path, feet = turning(False)
    hips_m = np.interp(path.time_s, [0, 2.2, 4], [-0.6, 4.3, 13.3])
    for half_s in (2.1, 2.25, 2.5):
        turned = replace(
            path, distance_m=hips_m, profile=np.where(path.time_s < half_s, 0.1, 0.95)
        )
        turn = time_turn(turned, feet, closing)
        assert isinstance(turn, Turn), turn
        assert turn.end.time_s == 2.36
        assert turn.start.time_s == 1.95


def test_without_the_trailing_foot_the_leading_one_is_not_taken_for_it() -> None:
    # It leaves the ground beneath the hips, and the trailing one far behind them.
    unseen = tuple(each for each in SHUFFLE_AND_RUN if each.start.time_s != 1.78)
    assert isinstance(time_turn(*turning(False), unseen), Refused)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("to_right", "heels_seen", "side"), [
    (True, False, "left"), (True, True, "right"), (False, False, "right"), (False, True, "left"),
])  # fmt: skip
def test_the_ground_overrules_the_pose_on_the_side_of_a_turn(
    monkeypatch: pytest.MonkeyPatch, mirrored: bool, to_right: bool, heels_seen: bool, side: str
) -> None:
    # A body that faces the camera (toes seen) and goes to the picture's right leads with its left.
    seen = LiftOff(Instant(1.95, 0.01), heels_seen)
    monkeypatch.setattr("measure.sprint.turn.time_lift_off", lambda *_, **__: seen)
    places_m = TO_RIGHT_M if to_right else TO_RIGHT_M[::-1]
    turn = time_turn(*turning(mirrored), SHUFFLE_AND_RUN, ground=bare_ground(places_m))
    assert isinstance(turn, Turn), turn
    assert (turn.side, turn.start.time_s) == (side, 1.95)


@pytest.mark.parametrize("leaves_s", [1.905, 1.975, 1.86, 2.02])
def test_an_outline_that_the_cleared_ground_contradicts_is_half_believed_or_not_at_all(
    monkeypatch: pytest.MonkeyPatch, leaves_s: float
) -> None:
    # The trailing foot's place is free from 2.0 s on, so that it left at about 1.94 s.
    seen = LiftOff(Instant(leaves_s, 0.006), heels_seen=True)
    monkeypatch.setattr("measure.sprint.turn.time_lift_off", lambda *_, **__: seen)
    turn = time_turn(*turning(False), SHUFFLE_AND_RUN, ground=bare_ground(TO_RIGHT_M))
    if abs(leaves_s - 1.94) > 0.04:
        assert isinstance(turn, Refused)
        assert "push-off" in turn.reason
        return
    assert isinstance(turn, Turn), turn
    assert turn.start.time_s == pytest.approx((leaves_s + 1.94) / 2)
    assert turn.start.sigma_s > abs(leaves_s - 1.94) / 2


def test_a_body_that_looks_turned_far_too_early_still_turns_on_the_longest_stand() -> None:
    path, feet = turning(False)
    early = replace(path, profile=np.where(path.time_s < 1.5, 0.1, 0.95))
    turn = time_turn(early, feet, SHUFFLE_AND_RUN)
    assert isinstance(turn, Turn), turn
    assert (turn.start.time_s, turn.end.time_s) == (2.0, 2.4)


@pytest.mark.parametrize(("looks", "side"), [(0.9, "left"), (-0.9, "right"), (0.1, "right")])
def test_where_the_nose_is_seen_overrules_heels_and_toes(
    monkeypatch: pytest.MonkeyPatch, looks: float, side: str
) -> None:
    seen = LiftOff(Instant(1.95, 0.01), heels_seen=True)
    monkeypatch.setattr("measure.sprint.turn.time_lift_off", lambda *_, **__: seen)
    path, feet = turning(False)
    facing = replace(path, to_camera=np.full(path.time_s.size, looks))
    turn = time_turn(facing, feet, SHUFFLE_AND_RUN, ground=bare_ground(TO_RIGHT_M))
    assert isinstance(turn, Turn), turn
    assert turn.side == side


def test_a_foot_planted_longer_than_all_before_is_turned_on_though_nothing_lands() -> None:
    # The body looks half turned late, and the run's first step is hidden.
    shuffle = (
        stand(1.20, 1.36, 2.6), stand(1.38, 1.54, 2.4), stand(1.56, 1.72, 3.5),
        stand(1.74, 1.90, 3.3), stand(1.92, 2.26, 4.5),
    )  # fmt: skip
    path, feet = turning(False)
    late = replace(path, profile=np.where(path.time_s < 2.45, 0.1, 0.95))
    turn = time_turn(late, feet, shuffle)
    assert isinstance(turn, Turn), turn
    assert turn.end.time_s == pytest.approx(2.30, abs=0.02)
    assert turn.end.sigma_s > 0.03


def test_a_hidden_touchdown_follows_the_planted_foot_with_more_doubt() -> None:
    hidden = tuple(each for each in SHUFFLE_AND_RUN if each.start.time_s != 2.4)
    turn = time_turn(*turning(False), hidden)
    assert isinstance(turn, Turn), turn
    assert turn.end.time_s == pytest.approx(2.4, abs=0.02)
    assert turn.end.sigma_s > 0.03
    assert turn.start.time_s == 2.0


def test_a_turn_whose_feet_are_not_seen_is_refused() -> None:
    for stands in ((), SHUFFLE_AND_RUN[-1:]):
        said = time_turn(*turning(False), stands)
        assert isinstance(said, Refused)
        assert "not seen on the ground" in said.reason


def test_a_straight_sprint_has_no_turn() -> None:
    path = path_of(TIME_S, sprint_m(TIME_S))
    feet = running_feet(TIME_S, path.distance_m, frequency_hz=4.2, from_s=START_S)
    assert isinstance(time_turn(path, feet, SHUFFLE_AND_RUN), Refused)


def test_top_speed_of_a_sprint() -> None:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    rng = np.random.default_rng(6)
    distance_m = sprint_m(TIME_S) + rng.normal(0, 0.01, TIME_S.size)
    top = read_top_speed(path_of(TIME_S, distance_m), lane)
    assert isinstance(top, TopSpeed)
    reached_mps = 7.4 * (1 - np.exp(-(TIME_S[-1] - 0.3 - START_S) / 1.1))
    assert top.speed_mps.value == pytest.approx(reached_mps, rel=0.012)
    assert 0.03 < top.speed_mps.sigma < 0.12
    assert isinstance(read_top_speed(path_of(TIME_S[:5], distance_m[:5]), lane), Refused)


def test_top_speed_of_hips_that_stray_is_doubted() -> None:
    # As of a runner in the colours of what is behind her: 6 cm to and fro over two or three steps.
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    steady, straying = (
        read_top_speed(
            path_of(TIME_S, sprint_m(TIME_S) + stray_m * np.sin(2 * np.pi * 1.6 * TIME_S)), lane
        )
        for stray_m in (0.0, 0.06)
    )
    assert isinstance(steady, TopSpeed)
    assert isinstance(straying, TopSpeed)
    apart_mps = abs(straying.speed_mps.value - steady.speed_mps.value)
    assert straying.speed_mps.sigma > max(2 * steady.speed_mps.sigma, apart_mps / 2)


@pytest.mark.parametrize("constant_s", [0.9, 1.1, 1.35])
def test_a_runner_who_still_gains_at_the_end_of_what_is_seen(constant_s: float) -> None:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    time_s = np.arange(0, START_S + 2.6, 1 / 30)
    exact_m = sprint_m(time_s, constant_s=constant_s)
    last_mps = 7.4 * (1 - np.exp(-(time_s[-1] - START_S) / constant_s))
    over_sigma = []
    for seed in range(20):
        noise_m = np.random.default_rng(seed).normal(0, 0.012, time_s.size)
        top = read_top_speed(path_of(time_s, exact_m + noise_m), lane)
        assert isinstance(top, TopSpeed)
        assert top.speed_mps.value == pytest.approx(last_mps, rel=0.015)
        assert top.time_s == time_s[-1]
        over_sigma.append((top.speed_mps.value - last_mps) / top.speed_mps.sigma)
    assert np.sqrt(np.mean(np.square(over_sigma))) < 1.25


def test_a_body_that_the_model_often_misses_has_no_top_speed() -> None:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    rng = np.random.default_rng(1)
    path = path_of(TIME_S, 7 * TIME_S)
    for kept, seen in ((0.85, TopSpeed), (0.55, Refused)):
        rows = rng.random(TIME_S.size) < kept
        some = path_of(path.time_s[rows], path.distance_m[rows])
        assert isinstance(read_top_speed(some, lane), seen)


def test_a_runner_who_slows_was_fastest_before() -> None:
    lane = fit_lane(survey(camera()), width_px=1920, height_px=1080)
    assert isinstance(lane, Lane)
    time_s = np.arange(0, 5, 1 / 30)
    for slowing_mps2, off in ((0.0, 0.001), (0.6, 0.01)):
        distance_m = 7 * time_s - slowing_mps2 / 2 * np.maximum(0, time_s - 3.5) ** 2
        top = read_top_speed(path_of(time_s, distance_m), lane)
        assert isinstance(top, TopSpeed)
        assert top.speed_mps.value == pytest.approx(7.0, rel=off)
        assert top.time_s < 4.0 or slowing_mps2 == 0


def test_the_curve_of_a_filmed_run() -> None:
    curve = fit_run_curve(path_of(TIME_S, sprint_m(TIME_S)), start_s=START_S)
    assert isinstance(curve, SpeedCurve)
    assert curve.max_speed_mps.value == pytest.approx(7.4, abs=0.03)
    assert curve.time_constant_s.value == pytest.approx(1.1, abs=0.02)
    assert curve.offset_s.value == pytest.approx(0.0, abs=0.02)
    assert curve.time_constant_s.sigma > 0.02  # the place of rest is read badly


def test_what_a_turn_costs() -> None:
    # Nimphius et al. 2016: 505 time minus 10 m time.
    deficit = change_of_direction_deficit_s(Estimate(2.35, 0.003), Estimate(1.80, 0.004))
    assert deficit.value == pytest.approx(0.55)
    assert deficit.sigma == pytest.approx(0.005)
