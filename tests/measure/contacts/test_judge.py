"""Which fits are believed, and one instant of several patches and both feet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from calibration.values import Refused
from measure.contacts.doubt import JudgeSettings
from measure.contacts.fuse import fuse_feet
from measure.contacts.judge import FootEvent, time_foot
from measure.contacts.plan import EventKind, EventPlan
from measure.contacts.trace import Trace
from measure.types import Floats
from tests.measure.contacts.drawn_shoe import PX_PER_M, SPEED_MPS, patch_trace, plan_of


def _timed(
    plan: EventPlan, traces: Sequence[Trace], rate_hz: float = 120.0
) -> FootEvent | Refused:
    return time_foot(plan, traces, px_per_m=PX_PER_M, interval_s=1 / rate_hz)


def _event(
    plan: EventPlan, traces: Sequence[Trace], rate_hz: float = 120.0
) -> FootEvent:
    event = _timed(plan, traces, rate_hz)
    assert isinstance(event, FootEvent), event
    return event


def _patches(
    kind: EventKind, instants_s: Sequence[float], rate_hz: float = 120.0, seed: int = 6
) -> list[Trace]:
    rng = np.random.default_rng(seed)
    return [patch_trace(kind, instant_s, rate_hz, rng) for instant_s in instants_s]


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_patches_that_agree_are_believed(kind: EventKind) -> None:
    event = _event(plan_of(kind), _patches(kind, [0.003] * 3))
    assert event.foot == "left"
    assert event.patch_count == 3
    assert event.residual_m < 0.002
    assert abs(event.instant.time_s - 0.003) < 2 * event.instant.sigma_s
    assert abs(event.instant.time_s - 0.003) < 0.0015


def test_an_event_knows_where_its_shoe_stood() -> None:
    """In the upright picture, of which the window shows a part at half its size."""
    mask = np.zeros((60, 80), dtype=bool)
    mask[40:52, 10:25] = True
    traces = [
        replace(trace, patch=replace(trace.patch, mask=mask))
        for trace in _patches("landing", [0.003] * 3)
    ]
    plan = replace(plan_of("landing"), box=(600, 400, 760, 520))
    assert _event(plan, traces).place_px == (620.0, 480.0, 650.0, 504.0)


@pytest.mark.parametrize(("kind", "right_px"), [("take_off", 630.0), ("landing", 680.0)])
def test_all_of_a_shoe_that_lands_may_hide_another_and_the_toes_of_one_that_leaves(
    kind: EventKind, right_px: float
) -> None:
    plan = replace(plan_of(kind), box=(600, 400, 760, 520))
    traces = []
    for trace, columns in zip(_patches(kind, [0.003] * 3), (15, 20, 40), strict=True):
        mask = np.zeros((60, 80), dtype=bool)
        mask[40:52, :columns] = True
        traces.append(replace(trace, patch=replace(trace.patch, mask=mask)))
    assert _event(plan, traces).place_px == (600.0, 480.0, right_px, 504.0)


@pytest.mark.parametrize(("rate_hz", "least_s"), [(30.0, 0.006), (60.0, 0.0015)])
def test_a_heel_that_rises_towards_the_camera_makes_a_take_off_less_sure(
    rate_hz: float, least_s: float
) -> None:
    from_front = _patches("take_off", [0.003] * 3, rate_hz)
    as_if_none, doubted = (
        time_foot(
            plan_of("take_off"), from_front, px_per_m=PX_PER_M, interval_s=1 / rate_hz,
            settings=settings,
        )
        for settings in (JudgeSettings(front_rise_per_s=0.0), JudgeSettings())
    )  # fmt: skip
    assert isinstance(as_if_none, FootEvent)
    assert isinstance(doubted, FootEvent)
    more_s = math.sqrt(doubted.instant.sigma_s**2 - as_if_none.instant.sigma_s**2)
    assert more_s == pytest.approx(5.0 / rate_hz**2, rel=0.2)
    assert doubted.shared_s > least_s


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_a_coarser_clip_has_a_wider_sigma(kind: EventKind) -> None:
    fast = _event(plan_of(kind), _patches(kind, [0.003] * 3, 240.0), 240.0)
    slow = _event(plan_of(kind), _patches(kind, [0.003] * 3, 30.0), 30.0)
    assert slow.instant.sigma_s > 1.3 * fast.instant.sigma_s


def test_a_take_off_is_less_sure_than_a_landing() -> None:
    """How a toe starts to move differs between feet; where it stops does not."""
    off = _event(plan_of("take_off"), _patches("take_off", [0.0] * 3))
    on = _event(plan_of("landing"), _patches("landing", [0.0] * 3))
    assert off.instant.sigma_s > 0.0008
    assert off.instant.sigma_s > 1.2 * on.instant.sigma_s


def _seen_from_the_side(instants_s: Sequence[float]) -> list[Trace]:
    """Patches, smallest first, that roll forward as toes usually do before they leave."""
    return [
        _rolling(trace, 12.0, instant_s=instant_s)
        for trace, instant_s in zip(_patches("take_off", instants_s), instants_s, strict=True)
    ]


def test_toes_that_bend_leave_last() -> None:
    """The more of a bending foot a patch holds, the earlier it goes; stiff shoes go at once."""
    stiff = _event(plan_of("take_off"), _seen_from_the_side([0.003] * 3))
    bending = _event(plan_of("take_off"), _seen_from_the_side([0.003, -0.001, -0.009]))
    # The patches reach 5 and 16 cm behind the tip; what they go apart beyond chance is drawn on.
    tip_s = stiff.instant.time_s + (0.012 - 0.003) * 5 / (16 - 5)
    assert bending.instant.time_s == pytest.approx(tip_s, abs=0.0015)
    by_chance = _event(plan_of("take_off"), _seen_from_the_side([0.003, 0.0028, 0.0026]))
    assert by_chance.instant.time_s == pytest.approx(stiff.instant.time_s, abs=0.0005)
    on = _event(plan_of("landing"), _patches("landing", [0.003, 0.001, 0.001]))
    assert on.instant.sigma_s < 0.003


def test_a_rising_heel_seen_from_the_front_takes_high_patches_along() -> None:
    """The toe's edge stays: what patches 6 and 11 cm high go apart is drawn on to it."""
    stiff = _event(plan_of("take_off"), _patches("take_off", [0.003] * 3))
    rolling = _event(plan_of("take_off"), _patches("take_off", [0.003, 0.001, -0.003]))
    edge_s = stiff.instant.time_s + (0.006 - 0.002) * 6 / (11 - 6)
    assert rolling.instant.time_s == pytest.approx(edge_s, abs=0.002)


def test_two_feet_of_one_athlete_bend_alike() -> None:
    """What both feet may be wrong by in the same way does not average out."""
    fast, slow = (
        _event(plan_of("take_off"), _patches("take_off", [0.003] * 3, rate_hz), rate_hz)
        for rate_hz in (120.0, 30.0)
    )
    for event in (fast, slow):
        beside = replace(event, foot="right", place_px=None)
        fused = fuse_feet([event, beside], kind="take_off")
        assert fused is not None
        assert (fused[0].sigma_s > 0.85 * event.instant.sigma_s) is (event is slow)


def _rolling(trace: Trace, turn_deg: float, *, instant_s: float) -> Trace:
    """Seen from the side, rolled forward by so much about the tip when it leaves."""
    share = np.clip((trace.path.time_s - instant_s + 0.05) / 0.05, 0, 1.4)
    return _turned(trace, math.radians(turn_deg) * share)


def _turned(trace: Trace, turn: Floats) -> Trace:
    """Seen from the side, turned about the tip of its sole."""
    ahead_px = float(trace.patch.sole[:, 0].max())  # from the patch's middle
    tip = np.array([ahead_px - 0.005 * PX_PER_M, 10.0])
    cos, sin = np.cos(turn), np.sin(turn)
    turned = np.stack([cos * tip[0] - sin * tip[1], sin * tip[0] + cos * tip[1]], axis=1)
    path = replace(trace.path, shift_px=trace.path.shift_px - (turned - tip), turn_rad=turn)
    return replace(trace, path=path, direction=1)


def test_a_toe_that_leaves_without_rolling_or_rolls_far_is_doubted() -> None:
    """The former was left behind by toes that bend; the latter holds some of them."""
    patches = _patches("take_off", [0.003] * 3, 60.0)
    rolled, flat, far, farther = (
        _event(
            plan_of("take_off"), [_rolling(one, deg, instant_s=0.003) for one in patches], 60.0
        )
        for deg in (15.0, 0.0, 30.0, 40.0)
    )
    assert flat.instant.sigma_s > 0.4 / 60 > 1.5 * rolled.instant.sigma_s
    assert far.instant.sigma_s > 0.4 / 60
    assert farther.instant.sigma_s < 1.1 * far.instant.sigma_s
    seen_from_the_front = _event(plan_of("take_off"), patches, 60.0)
    assert 0.004 < seen_from_the_front.instant.sigma_s < 0.35 / 60


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_a_patch_that_stands_on_its_head_is_not_believed(kind: EventKind) -> None:
    turned = [
        replace(
            trace, direction=1,
            path=replace(trace.path, turn_rad=np.full_like(trace.path.turn_rad, sign * 1.2)),
        )
        for trace in _patches(kind, [0.0] * 3)
        for sign in (1, -1)
    ]  # fmt: skip
    assert isinstance(_timed(plan_of(kind), turned), Refused)
    seen_from_the_front = [replace(trace, direction=0) for trace in turned]
    assert isinstance(_timed(plan_of(kind), seen_from_the_front), FootEvent)


def test_a_toe_that_lands_more_slowly_than_the_body_is_doubted() -> None:
    """It comes down after a heel that stands already."""
    rng = np.random.default_rng(9)
    usual, slow, fast = (
        _event(
            plan_of("landing"),
            [patch_trace("landing", 0.0, 120.0, rng, speed_mps=share * SPEED_MPS)] * 2,
        )
        for share in (0.95, 0.75, 1.2)
    )
    assert slow.instant.sigma_s > 2 * usual.instant.sigma_s
    assert fast.instant.sigma_s < 1.5 * usual.instant.sigma_s


def test_one_patch_is_less_sure_than_three() -> None:
    three = _event(plan_of("landing"), _patches("landing", [0.003] * 3))
    one = _event(plan_of("landing"), _patches("landing", [0.003]))
    assert one.patch_count == 1
    assert one.instant.sigma_s > 2.5 * three.instant.sigma_s


def test_patches_that_disagree_within_reason_widen_the_sigma() -> None:
    alike = _event(plan_of("landing"), _patches("landing", [0.0, 0.0, 0.0]))
    apart = _event(plan_of("landing"), _patches("landing", [-0.0035, 0.0, 0.0035]))
    assert apart.patch_count == 3
    assert apart.instant.sigma_s > 1.3 * alike.instant.sigma_s


def test_one_stray_patch_is_outvoted() -> None:
    event = _event(plan_of("landing"), _patches("landing", [0.001, 0.001, 0.020]))
    assert event.patch_count == 2
    assert event.instant.time_s == pytest.approx(0.001, abs=0.0015)


def _is_refused(event: FootEvent | Refused, *, words: str) -> bool:
    assert isinstance(event, Refused), event
    assert words in event.what
    assert event.reason
    assert event.hint
    return True


@pytest.mark.parametrize(("kind", "doubted"), [("take_off", True), ("landing", False)])
def test_toes_that_hardly_differ_from_the_ground_are_doubted_as_they_leave(
    kind: EventKind, doubted: bool
) -> None:
    clear = _patches(kind, [0.003] * 3)
    faint = [replace(one, contrast_grey=25.0) for one in clear]
    before_s, after_s = (
        _event(plan_of(kind), traces).instant.sigma_s for traces in (clear, faint)
    )
    expected_s = math.hypot(before_s, 0.005) if doubted else before_s
    assert after_s == pytest.approx(expected_s, rel=0.05)


def test_a_foot_that_never_moves_is_refused() -> None:
    still = _patches("take_off", [5.0])
    assert _is_refused(_timed(plan_of("take_off"), still), words="left foot take-off at 0.02 s")


def test_no_patch_no_event() -> None:
    nothing = _timed(plan_of("landing", foot="right"), [])
    assert _is_refused(nothing, words="right foot landing at 0.02 s")


@pytest.mark.parametrize(("kind", "share"), [("take_off", 0.3), ("landing", 1.9)])
def test_a_foot_far_slower_or_faster_than_its_body_is_not_believed(
    kind: EventKind, share: float
) -> None:
    rng = np.random.default_rng(3)
    odd = [patch_trace(kind, 0.0, 120.0, rng, speed_mps=share * SPEED_MPS) for _ in range(3)]
    assert _is_refused(_timed(plan_of(kind, coarse_s=0.0), odd), words="left foot")


def test_an_instant_far_from_the_rough_one_is_another_event() -> None:
    traces = _patches("landing", [0.0] * 3)
    assert isinstance(_timed(plan_of("landing", coarse_s=0.03), traces), FootEvent)
    assert _is_refused(_timed(plan_of("landing", coarse_s=0.09), traces), words="landing")


@pytest.mark.parametrize(("coarse_s", "believed"), [(-0.04, False), (0.04, True)])
def test_a_foot_leaves_before_poses_see_it_go(coarse_s: float, believed: bool) -> None:
    event = _timed(plan_of("take_off", coarse_s=coarse_s), _patches("take_off", [0.0] * 3))
    assert isinstance(event, FootEvent) == believed, event


@pytest.mark.parametrize("noise_m", [0.0005, 0.006])
def test_the_less_sure_a_take_off_is_the_later_it_is_told(noise_m: float) -> None:
    """What makes it unsure makes it early: told as it shows, and by part of its doubt later."""
    rng = np.random.default_rng(7)
    traces = [patch_trace("take_off", 0.0, 60.0, rng, noise_m=noise_m) for _ in range(3)]
    told, shown = (
        time_foot(
            plan_of("take_off"), traces, px_per_m=PX_PER_M, interval_s=1 / 60, settings=settings
        )
        for settings in (JudgeSettings(), JudgeSettings(early_share=0.0))
    )
    assert isinstance(told, FootEvent)
    assert isinstance(shown, FootEvent)
    later_s = told.instant.time_s - shown.instant.time_s
    assert later_s == pytest.approx(min(0.2 * shown.instant.sigma_s, 0.0015))
    assert told.instant.sigma_s == shown.instant.sigma_s


def test_a_patch_that_jumps_about_is_not_believed() -> None:
    rng = np.random.default_rng(4)
    wild = [patch_trace("take_off", 0.0, 120.0, rng, noise_m=0.012) for _ in range(3)]
    assert _is_refused(_timed(plan_of("take_off"), wild), words="take-off")


def _with_heel(heel_s: Sequence[float]) -> list[Trace]:
    heels = _patches("landing", heel_s, 240.0, seed=12)
    toes = _patches("landing", [0.0, 0.0, 0.0], 240.0, seed=13)
    return [*toes, *(replace(trace, end="heel") for trace in heels)]


def test_a_heel_that_lands_clearly_first_counts() -> None:
    event = _event(plan_of("landing", coarse_s=0.0), _with_heel([-0.03, -0.03]), 240.0)
    assert event.instant.time_s == pytest.approx(-0.03, abs=0.002)


def test_patches_of_one_heel_that_are_unsure_may_lie_farther_apart() -> None:
    heels = [
        patch_trace("landing", time_s, 30.0, np.random.default_rng(seed), noise_m=0.003)
        for seed, time_s in ((2, -0.026), (11, -0.031))
    ]
    toes = _patches("landing", [0.0] * 3, 30.0, seed=13)
    traces = [*toes, *(replace(one, end="heel") for one in heels)]
    event = _event(plan_of("landing", coarse_s=0.0), traces, 30.0)
    assert event.instant.time_s == pytest.approx(-0.03, abs=0.005)
    sure = _event(plan_of("landing", coarse_s=0.0), _with_heel([-0.026, -0.033]), 240.0)
    assert sure.instant.time_s == pytest.approx(0.0, abs=0.001)


def _rolling_down(instant_s: float, count: int = 2) -> list[Trace]:
    """Toes that come down at less than half of the body's speed, once the heel stands."""
    rng = np.random.default_rng(13)
    return [
        patch_trace("landing", instant_s, 240.0, rng, speed_mps=0.4 * SPEED_MPS)
        for _ in range(count)
    ]


@pytest.mark.parametrize("instant_s", [0.0, 0.01, 0.02])
def test_a_heel_lands_on_its_edge_whatever_it_turns_about_it_afterwards(instant_s: float) -> None:
    """15 degrees up, then flat within 20 ms: the middle, 10 cm ahead of the edge, sinks by 3 cm."""
    long_sole = np.array([[x, 10.0] for x in range(-8, 25)])
    heels = []
    for one in _patches("landing", [instant_s] * 2, 30.0, seed=12):
        turn = math.radians(15) * np.clip(1 - (one.path.time_s - instant_s) / 0.02, 0, 1)
        heel = replace(one, end="heel", patch=replace(one.patch, sole=long_sole))
        heels.append(_turned(heel, turn))
    event = _event(plan_of("landing", coarse_s=0.0), [*_rolling_down(0.045), *heels], 30.0)
    assert event.instant.time_s == pytest.approx(instant_s, abs=0.003)


def test_a_heel_counts_where_the_toes_only_roll_down_after_it() -> None:
    plan = plan_of("landing", coarse_s=0.0)
    heels = [one for one in _with_heel([0.0, 0.0]) if one.end == "heel"]
    event = _event(plan, [*_rolling_down(0.035), *heels], 240.0)
    assert event.instant.time_s == pytest.approx(0.0, abs=0.0015)
    unseen_toes = _timed(plan, heels, 240.0)
    toes_before = _timed(plan, [*_rolling_down(-0.02), *heels], 240.0)
    lone_toe = _timed(plan, [*_rolling_down(0.035, count=1), *heels], 240.0)
    for one in (unseen_toes, toes_before, lone_toe):
        assert isinstance(one, Refused), one


@pytest.mark.parametrize("heel_s", [[-0.03], [0.02, 0.02], [-0.0005, -0.0005]])
def test_a_lone_a_later_or_a_simultaneous_heel_does_not(heel_s: Sequence[float]) -> None:
    event = _event(plan_of("landing", coarse_s=0.0), _with_heel(heel_s), 240.0)
    assert event.instant.time_s == pytest.approx(0.0, abs=0.001)


def test_a_step_may_be_slow() -> None:
    rng = np.random.default_rng(5)
    traces = [patch_trace("landing", 0.0, 120.0, rng, speed_mps=0.9) for _ in range(3)]
    event = _event(plan_of("landing", flight=None, speed_mps=0.8, coarse_s=0.0), traces)
    assert event.instant.time_s == pytest.approx(0.0, abs=0.004)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_a_standing_foot_that_seems_to_sink_is_doubted(kind: EventKind) -> None:
    firm = _patches(kind, [0.003] * 3)
    shift = firm[0].path.shift_px.copy()
    away_s = firm[0].path.time_s if kind == "take_off" else -firm[0].path.time_s
    shift[away_s < -0.03, 1] += 0.014 * PX_PER_M
    sunk = [replace(one, path=replace(one.path, shift_px=shift)) for one in firm]
    firm_s, sunk_s = (_event(plan_of(kind), traces).instant.sigma_s for traces in (firm, sunk))
    assert sunk_s > math.hypot(firm_s, 0.004 / SPEED_MPS)


def _braked(trace: Trace, instant_s: float) -> Trace:
    """Comes down at half its speed in the last 30 ms, as toes do once the heel stands."""
    left_s = np.clip(instant_s - trace.path.time_s, 0, 0.03)
    shift = trace.path.shift_px.copy()
    shift[:, 1] += 0.5 * SPEED_MPS * left_s * PX_PER_M
    return replace(trace, path=replace(trace.path, shift_px=shift))


@pytest.mark.parametrize("rate_hz", [60.0, 120.0])
def test_toes_that_brake_before_they_land_are_hardly_believed(rate_hz: float) -> None:
    """Seen from the front: the heel has landed, behind them."""
    firm = _patches("landing", [0.003] * 3, rate_hz)
    braked = [_braked(one, 0.003) for one in firm]
    assert _event(plan_of("landing"), firm, rate_hz).instant.sigma_s < 0.002
    assert _event(plan_of("landing"), braked, rate_hz).instant.sigma_s > 0.02


def _lost_in_the_air(trace: Trace) -> Trace:
    """The third picture that shows the foot free tells it too high."""
    shift = trace.path.shift_px.copy()
    shift[np.flatnonzero(trace.path.time_s > 0.02)[2], 1] -= 0.1 * PX_PER_M
    return replace(trace, path=replace(trace.path, shift_px=shift))


def test_a_patch_that_lost_its_shoe_in_the_air_is_doubted_and_outweighed() -> None:
    """In a slow film three pictures of it fit any curve."""
    firm = _patches("take_off", [0.003] * 3, 30.0)
    lost = [_lost_in_the_air(one) for one in firm]
    sigma_s = _event(plan_of("take_off"), firm, 30.0).instant.sigma_s
    doubted_s = _event(plan_of("take_off"), lost, 30.0).instant.sigma_s
    assert doubted_s > 2 * sigma_s
    event = _event(plan_of("take_off"), [lost[0], *firm[1:]], 30.0)
    assert event.instant.sigma_s < 1.2 * sigma_s
    step = _event(plan_of("take_off", flight=None), lost, 30.0)  # toes of a step may whip up
    assert step.instant.sigma_s < 0.8 * doubted_s
