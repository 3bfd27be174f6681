"""One instant of both feet."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.fuse import cover_each_other, fuse_feet
from measure.contacts.judge import FootEvent
from measure.contacts.plan import EventKind
from measure.types import Foot, Instant


def _foot(foot: Foot, time_s: float, sigma_s: float = 0.003) -> FootEvent:
    return FootEvent(foot, Instant(time_s, sigma_s), 3, 0.001)


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_feet_that_move_together_are_averaged(kind: EventKind) -> None:
    events = [_foot("left", 1.000), _foot("right", 1.004)]
    instant, side = fuse_feet(events, kind=kind) or pytest.fail("nothing fused")
    assert instant.time_s == pytest.approx(1.002)
    assert instant.sigma_s == pytest.approx(0.003 / math.sqrt(2))
    assert side == "both"


def test_the_surer_foot_counts_more() -> None:
    events = [_foot("left", 1.000, 0.002), _foot("right", 1.005, 0.004)]
    instant, _ = fuse_feet(events, kind="landing") or pytest.fail("nothing fused")
    assert instant.time_s == pytest.approx(1.001)  # weights 4 to 1


@pytest.mark.parametrize(
    ("kind", "expected_s", "foot"), [("take_off", 1.06, "right"), ("landing", 1.00, "left")]
)
def test_apart_the_last_off_and_the_first_on_count(
    kind: EventKind, expected_s: float, foot: Foot
) -> None:
    events = [_foot("left", 1.00), _foot("right", 1.06)]
    assert fuse_feet(events, kind=kind) == (Instant(expected_s, 0.003), foot)
    assert fuse_feet(events[::-1], kind=kind) == (Instant(expected_s, 0.003), foot)


def test_one_foot_alone_is_the_event() -> None:
    alone = _foot("right", 2.0)
    assert fuse_feet([alone], kind="take_off") == (alone.instant, "right")


def test_one_patch_of_one_foot_is_believed_a_third_as_much() -> None:
    """Nothing else speaks for it: not another patch, not the other foot."""
    alone = replace(_foot("right", 2.0), patch_count=1)
    instant, foot = fuse_feet([alone], kind="landing") or pytest.fail("nothing fused")
    assert (instant.time_s, foot) == (2.0, "right")
    assert instant.sigma_s == pytest.approx(3 * alone.instant.sigma_s)


@pytest.mark.parametrize(("kind", "factor"), [("take_off", 2.5), ("landing", 1.0)])
def test_of_two_feet_the_one_that_was_not_timed_may_have_left_last(
    kind: EventKind, factor: float
) -> None:
    seen = _foot("right", 2.0)
    instant, foot = fuse_feet([seen], kind=kind, foot_count=2) or pytest.fail("nothing fused")
    assert (instant.time_s, foot) == (2.0, "right")
    assert instant.sigma_s == pytest.approx(factor * seen.instant.sigma_s)


def test_no_foot_no_instant() -> None:
    assert fuse_feet([], kind="landing") is None


def test_feet_clearly_apart_are_not_averaged() -> None:
    """However little that is."""
    feet = [_foot("left", 0.0, 0.001), _foot("right", 0.0045, 0.001)]
    assert fuse_feet(feet, kind="landing") == (feet[0].instant, "left")
    instant, foot = fuse_feet(feet, kind="take_off") or pytest.fail("nothing fused")
    assert (instant.time_s, foot) == (feet[1].instant.time_s, "right")


@pytest.mark.parametrize("apart_s", [0.012, 0.03, 0.045])
def test_two_feet_that_seem_to_leave_apart_make_the_take_off_unsure(apart_s: float) -> None:
    """They leave within some ms of each other, so that one of the two was mistaken."""
    events = [_foot("left", 2.0), _foot("right", 2.0 + apart_s)]
    instant, foot = fuse_feet(events, kind="take_off") or pytest.fail("nothing fused")
    assert (instant.time_s, foot) == (2.0 + apart_s, "right")
    assert instant.sigma_s == pytest.approx(math.hypot(0.003, apart_s / 2))
    landing, foot = fuse_feet(events, kind="landing") or pytest.fail("nothing fused")
    assert (landing, foot) == (events[0].instant, "left")


@pytest.mark.parametrize(("kind", "stray_s"), [("take_off", 0.03), ("landing", -0.03)])
def test_one_patch_overrules_no_foot_that_several_agree_on(
    kind: EventKind, stray_s: float
) -> None:
    sure = _foot("right", 2.0)
    stray = replace(_foot("left", 2.0 + stray_s), patch_count=1)
    instant, foot = fuse_feet([stray, sure], kind=kind) or pytest.fail("nothing fused")
    assert (instant.time_s, foot) == (2.0, "right")
    assert instant.sigma_s == pytest.approx(math.hypot(sure.instant.sigma_s, 0.03 / 2))
    later = replace(_foot("left", 2.0 + 3 * stray_s), patch_count=1)
    assert fuse_feet([later, sure], kind=kind) == (later.instant, "left")


def _seen_at(event: FootEvent, left_px: float) -> FootEvent:
    return replace(event, place_px=(left_px, 500.0, left_px + 20.0, 524.0))


@pytest.mark.parametrize("kind", ["take_off", "landing"])
def test_one_shoe_seen_twice_is_no_surer_than_once(kind: EventKind) -> None:
    left, right = _foot("left", 1.0), _foot("right", 1.001)
    beside, behind = (
        fuse_feet([_seen_at(left, 300.0), _seen_at(right, left_px)], kind=kind)
        or pytest.fail("nothing fused")
        for left_px in (312.0, 303.0)
    )
    hidden_s = 0.007 if kind == "landing" else 0.0
    assert beside[0].sigma_s < 0.8 * 0.003
    assert behind[0].time_s == beside[0].time_s
    assert behind[0].sigma_s == pytest.approx(math.hypot(0.003, 0.0005, hidden_s))
    assert behind[1] == "both"


@pytest.mark.parametrize("kind", ["take_off", "landing"])
@pytest.mark.parametrize("apart_s", [0.004, 0.012])
def test_what_one_shoe_says_twice_differently_is_doubt(kind: EventKind, apart_s: float) -> None:
    """One shoe has one instant: whichever of two was told, half of what they differ is likely."""
    twice = [
        _seen_at(_foot(foot, time_s, 0.001), 300.0)
        for foot, time_s in (("left", 1.0), ("right", 1.0 + apart_s))
    ]
    instant, _ = fuse_feet(twice, kind=kind) or pytest.fail("nothing fused")
    assert instant.sigma_s > apart_s / 2


@pytest.mark.parametrize("apart_s", [0.0, 0.002])
def test_a_hidden_foot_may_have_landed_first(apart_s: float) -> None:
    """Simulated: feet that land 10 ms apart, of which only the nearer one is seen."""
    far_s = np.random.default_rng(5).normal(0.0, 0.010, 100_000)
    missed_s = math.sqrt(float(np.mean(np.minimum(far_s, 0.0) ** 2)))
    near = [
        _seen_at(_foot(foot, time_s, 0.0005), 300.0)
        for foot, time_s in (("left", 0.0), ("right", apart_s))
    ]
    instant, _ = fuse_feet(near, kind="landing") or pytest.fail("nothing fused")
    assert instant.sigma_s == pytest.approx(math.hypot(missed_s, apart_s / 2, 0.0005), rel=0.03)


def test_feet_whose_place_is_not_known_do_not_cover_each_other() -> None:
    left, right = _foot("left", 1.0), _foot("right", 1.0)
    assert not cover_each_other(left, right)
    assert not cover_each_other(_seen_at(left, 300.0), right)
    assert cover_each_other(_seen_at(left, 300.0), _seen_at(right, 300.0))
    assert not cover_each_other(_seen_at(left, 300.0), _seen_at(right, 330.0))
