"""Repetitions told apart and summed up."""

from __future__ import annotations

import pytest

from measure.ground_contact import classify_contact
from measure.sets import (
    count_ground_contacts,
    group_repetitions,
    rest_between_clips,
    rests_between,
    summarise_set,
)
from measure.types import Estimate, Refused
from tests.measure.landing.doll import contact, flight


def hops(first_s: float, count: int, *, in_air_s: float = 0.4, ground_s: float = 0.2):
    """Flights of a row of hops, the first taking off at a time."""
    starts = [first_s + k * (in_air_s + ground_s) for k in range(count)]
    return [flight(start, start + in_air_s) for start in starts]


def contacts_of(flights):
    """Both feet on the ground wherever no flight is."""
    ends = [None, *(jump.landing.time_s for jump in flights)]
    starts = [*(jump.take_off.time_s for jump in flights), None]
    return [
        contact(foot, start, end)
        for foot in ("left", "right")
        for start, end in zip(ends, starts, strict=True)
    ]


def test_three_repetitions_of_three_jumps_are_nine_contacts():
    """Common practice: each landing of one foot or both together is one contact."""
    flights = [*hops(1.0, 3), *hops(8.0, 3), *hops(16.0, 3)]
    assert [len(group) for group in group_repetitions(flights)] == [3, 3, 3]
    assert count_ground_contacts(contacts_of(flights)) == 9
    assert count_ground_contacts(contacts_of(flights), flights=flights) == 9
    assert count_ground_contacts([], flights=flights) == 9


def test_a_row_goes_on_over_a_jump_that_was_not_timed():
    row = hops(1.0, 3)
    missed = row[1]
    rest = [row[0], row[2]]
    assert len(group_repetitions(rest)) == 2
    untimed_s = [(missed.take_off.time_s + 0.02, missed.landing.time_s - 0.02)]
    assert group_repetitions(rest, untimed_s=untimed_s) == (tuple(rest),)
    alone = [(row[2].landing.time_s + 5.0, row[2].landing.time_s + 5.4)]
    assert len(group_repetitions(rest, untimed_s=alone)) == 2


def test_steps_and_running_do_not_count_and_a_late_second_foot_is_the_same_landing():
    steps = [contact("left", None, 0.5), contact("right", 0.4, 0.8), contact("left", 0.9, 1.2)]
    assert count_ground_contacts(steps) == 0
    landing = [contact("left", None, 1.0), contact("left", 1.4, None), contact("right", 1.5, None)]
    assert count_ground_contacts(landing) == 1
    assert count_ground_contacts([]) == 0


def test_an_untimed_second_foot_does_not_hide_a_landing():
    off_a_box = [
        contact("left", None, 1.0), contact("left", 1.4, 1.6), contact("left", 2.0, None),
        contact("right", None, 1.0), contact("right", None, 1.6), contact("right", 2.0, None),
    ]  # fmt: skip
    assert count_ground_contacts(off_a_box) == 2


def test_rests_lie_between_landing_and_take_off():
    groups = group_repetitions([*hops(1.0, 2), *hops(8.0, 2)])
    (rest,) = rests_between(groups)
    assert rest.value == pytest.approx(8.0 - 2.0)
    assert rest.sigma == pytest.approx(0.002 * 2**0.5)


def test_rest_between_clips_needs_their_recording_times():
    rest = rest_between_clips(
        first_recorded_at="2026-03-01T10:00:00+00:00", first_landing_s=3.0,
        second_recorded_at="2026-03-01T10:02:30+00:00", second_take_off_s=1.5,
    )  # fmt: skip
    assert rest.value == pytest.approx(148.5)
    assert rest.sigma >= 1
    for first, second in ((None, "2026-03-01T10:02:30+00:00"),
                          ("2026-03-01T10:02:30+00:00", "2026-03-01T10:00:00+00:00")):  # fmt: skip
        assert isinstance(
            rest_between_clips(
                first_recorded_at=first, first_landing_s=3.0, second_recorded_at=second,
                second_take_off_s=1.5,
            ), Refused,
        )  # fmt: skip


def test_flights_out_of_order_are_a_wrong_call():
    with pytest.raises(ValueError, match="in order of time"):
        group_repetitions([flight(2.0, 2.4), flight(1.0, 1.4)])


def test_summary_of_a_set():
    heights = [Estimate(value, 0.01) for value in (0.30, 0.33, 0.31, 0.27)]
    summary = summarise_set(heights)
    assert (summary.count, summary.best_number, summary.best.value) == (4, 2, 0.33)
    assert summary.mean.value == pytest.approx(0.3025)
    assert summary.mean.sigma == pytest.approx(0.005)
    assert summary.spread == pytest.approx(0.025)
    assert summary.drop_off_pct.value == pytest.approx(100 * (0.33 - 0.27) / 0.33)
    assert 2 < summary.drop_off_pct.sigma < 6


def test_one_repetition_has_no_spread():
    summary = summarise_set([Estimate(0.3, 0.01)])
    assert summary.spread is None
    assert summary.drop_off_pct is None
    assert summarise_set([Estimate(0.2, 0.01), Estimate(0.3, 0.01)]).drop_off_pct.value == 0


def test_an_empty_set_is_a_wrong_call():
    with pytest.raises(ValueError, match="at least one"):
        summarise_set([])


@pytest.mark.parametrize(
    ("contact_s", "sigma_s", "word"),
    [(0.18, 0.005, "fast"), (0.30, 0.005, "slow"), (0.248, 0.005, "borderline"),
     (0.248, 0.001, "fast"), (0.252, 0.001, "slow")],
)  # fmt: skip
def test_fast_and_slow_at_250_ms(contact_s, sigma_s, word):
    """Schmidtbleicher 1992 (from memory): fast below 250 ms, slow above."""
    assert classify_contact(Estimate(contact_s, sigma_s)) == word
