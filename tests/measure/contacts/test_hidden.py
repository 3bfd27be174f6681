"""A far leg that the model guesses too high while the athlete crouches and lands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measure.contacts.coarse import find_flights, find_lifts
from measure.contacts.floor import measure_foot_heights
from measure.contacts.hidden import ground_hidden_feet
from measure.types import FOOT_LANDMARKS
from tests.known_motions import IdealJump, even_stamps
from tests.measure.contacts.stick_walks import foot_moved, ramp

JUMP = IdealJump()
OFF_S, ON_S = JUMP.take_off_s, JUMP.landing_s
TIME_S = even_stamps(60.0, duration_s=4.0)


def _grounded(*, floats_by_m: float, visibility: float, unseen: bool = False):
    """A jump whose right foot floats from long before the take-off to long after the landing."""
    floats = ramp(TIME_S, OFF_S - 0.6, OFF_S - 0.5) - ramp(TIME_S, ON_S + 0.5, ON_S + 0.6)
    in_air = (TIME_S > OFF_S) & (TIME_S < ON_S)
    track = foot_moved(
        JUMP.track(TIME_S), "right", up_m=np.where(in_air, 0.0, floats_by_m * floats)
    )
    seen = track.visibility.copy()
    leg = FOOT_LANDMARKS["right"]
    seen[:, [leg.knee, leg.ankle]] = visibility
    track = replace(track, visibility=seen)
    heights = measure_foot_heights(track)
    if unseen:
        px = track.px.copy()
        px[(TIME_S > OFF_S - 0.7) & (TIME_S < OFF_S + 0.1), leg.toe] = np.nan
        track = replace(track, px=px)
    lifts = find_lifts(heights)
    flights = find_flights(lifts, track, TIME_S, stride=heights.stride)
    found = ground_hidden_feet(flights, lifts, heights=heights, track=track, time_s=TIME_S)
    return flights, lifts, found


def test_a_hidden_foot_that_seems_to_float_low_stands_until_the_take_off() -> None:
    (before,), lifts, found = _grounded(floats_by_m=0.09, visibility=0.5)
    (after,), kept = found.flights, found.lifts
    assert TIME_S[before.lifts[1].first_row] < OFF_S - 0.4
    assert after.lifts[1].first_row == after.first_row == before.first_row
    assert after.lifts[1].last_row == after.last_row
    assert after.lifts[0] == before.lifts[0]
    assert len(kept) == len(lifts)
    assert after.lifts[1] in kept


def test_a_foot_that_comes_back_to_the_height_that_it_left_stands() -> None:
    # The model sees it well, and draws it 6 cm too high while the knees are bent.
    (before,), _, found = _grounded(floats_by_m=0.06, visibility=0.95)
    (after,) = found.flights
    assert TIME_S[before.lifts[1].first_row] < OFF_S - 0.4
    assert (after.lifts[1].first_row, after.lifts[1].last_row) == (after.first_row, after.last_row)


@pytest.mark.parametrize(("floats_by_m", "visibility"), [(0.09, 0.9), (0.40, 0.5)])
def test_a_foot_that_is_seen_or_high_is_off_the_ground(
    floats_by_m: float, visibility: float
) -> None:
    flights, lifts, found = _grounded(floats_by_m=floats_by_m, visibility=visibility)
    assert found.flights == tuple(flights)
    assert found.lifts == tuple(lifts)
    assert found.unseen == frozenset()


def test_a_foot_that_was_not_seen_beside_the_flight_stood_there() -> None:
    """The lift is but a bridge from the last sight of the foot to the first one in the air."""
    (before,), _, found = _grounded(floats_by_m=0.40, visibility=0.9, unseen=True)
    assert TIME_S[before.lifts[1].first_row] < OFF_S - 0.3
    (after,) = found.flights
    assert after.lifts[1].first_row == after.first_row
    assert found.unseen == {(0, "take_off", "right")}
