"""Repetitions of a clip or a session: told apart, summed up, rests between, contacts counted."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from measure.ground_contact import REBOUND_S, contacts_of_foot, follows_untimed
from measure.types import FOOT_LANDMARKS, Contact, Estimate, Flight, Refused

__all__ = [
    "SetSummary", "count_ground_contacts", "group_repetitions", "rest_between_clips",
    "rests_between", "summarise_set",
]  # fmt: skip

_TOGETHER_S = 0.25
"""Feet that come down within this are one ground contact."""
_RUNNING_FLIGHT_S = 0.15
"""Shorter times in the air lie between the steps of a run and are no jumps."""


@dataclass(frozen=True, slots=True)
class SetSummary:
    """One number over the repetitions of a set."""

    count: int
    best: Estimate
    """The largest, with its own doubt."""
    best_number: int
    """Which repetition, counted from 1."""
    mean: Estimate
    spread: float | None
    """Standard deviation between repetitions, measurement and athlete together; None for one."""
    drop_off_pct: Estimate | None
    """From the best to the last, percent of the best; None for one."""


def group_repetitions(
    flights: Sequence[Flight], *, untimed_s: Sequence[tuple[float, float]] = ()
) -> tuple[tuple[Flight, ...], ...]:
    """Put flights that follow each other at once into one repetition.

    Parameters
    ----------
    flights : sequence of Flight
        In order of time.
    untimed_s : sequence of (float, float)
        Start and end of jumps that were seen and not timed: a row goes on over one.

    Returns
    -------
    tuple of tuple of Flight
        One for each repetition: a single jump, or a row of hops.

    Raises
    ------
    ValueError
        For flights that are not in order.
    """
    groups: list[list[Flight]] = []
    for flight in flights:
        if groups:
            ground_s = flight.take_off.time_s - groups[-1][-1].landing.time_s
            if ground_s < 0:
                raise ValueError(f"flights: expected in order of time, got {ground_s} s between")
            if ground_s < REBOUND_S or _bridged(groups[-1][-1], flight, untimed_s):
                groups[-1].append(flight)
                continue
        groups.append([flight])
    return tuple(tuple(group) for group in groups)


def _bridged(
    before: Flight, after: Flight, untimed_s: Sequence[tuple[float, float]]
) -> bool:
    """Tell whether one untimed jump came at once after one flight and led at once to the next."""
    landing_s = before.landing.time_s
    between = [one for one in untimed_s if 0 < one[0] - landing_s < REBOUND_S]
    return follows_untimed(after, between)


def rests_between(repetitions: Sequence[Sequence[Flight]]) -> tuple[Estimate, ...]:
    """Give the time from each repetition's last landing to the next one's first take-off.

    Parameters
    ----------
    repetitions : sequence of sequence of Flight

    Returns
    -------
    tuple of Estimate
        Seconds; one fewer than repetitions.
    """
    return tuple(
        Estimate(
            after[0].take_off.time_s - before[-1].landing.time_s,
            float(np.hypot(after[0].take_off.sigma_s, before[-1].landing.sigma_s)),
        )
        for before, after in itertools.pairwise(repetitions)
    )


def rest_between_clips(
    *, first_recorded_at: str | None, first_landing_s: float,
    second_recorded_at: str | None, second_take_off_s: float,
) -> Estimate | Refused:  # fmt: skip
    """Give the rest between the last landing of one clip and the first take-off of the next.

    Parameters
    ----------
    first_recorded_at, second_recorded_at : str or None
        When each file says it was filmed (ISO 8601).
    first_landing_s, second_take_off_s : float
        Real seconds since the first frame of its clip.

    Returns
    -------
    Estimate or Refused
        Seconds. Some phones write the time at which filming ended: the doubt is a few seconds.
    """
    if first_recorded_at is None or second_recorded_at is None:
        return Refused(
            "rest_s", "A clip does not say when it was filmed.",
            "Upload the phone's own file: messengers remove the recording time.",
        )  # fmt: skip
    apart = datetime.fromisoformat(second_recorded_at) - datetime.fromisoformat(first_recorded_at)
    rest_s = apart.total_seconds() + second_take_off_s - first_landing_s
    if rest_s < 0:
        return Refused(
            "rest_s", "The second clip was filmed before the first one had ended.",
            "Give the clips in the order in which they were filmed.",
        )  # fmt: skip
    return Estimate(rest_s, 5.0)


def summarise_set(values: Sequence[Estimate]) -> SetSummary:
    """Best, mean, spread and drop-off over repetitions, for numbers where more is better.

    Parameters
    ----------
    values : sequence of Estimate
        In the order of the repetitions.

    Returns
    -------
    SetSummary
        The mean's doubt is that of independent errors; what all repetitions share (scale,
        method) stays in each.

    Raises
    ------
    ValueError
        For no values.
    """
    if not values:
        raise ValueError("values: expected at least one, got none")
    numbers = [value.value for value in values]
    best_index = int(np.argmax(numbers))
    mean_sigma = float(np.sqrt(sum(value.sigma**2 for value in values))) / len(values)
    several = len(values) > 1
    return SetSummary(
        count=len(values),
        best=values[best_index],
        best_number=best_index + 1,
        mean=Estimate(statistics.fmean(numbers), mean_sigma),
        spread=statistics.stdev(numbers) if several else None,
        drop_off_pct=_drop_off(values[best_index], values[-1]) if several else None,
    )


def _drop_off(best: Estimate, last: Estimate) -> Estimate | None:
    if best.value <= 0:
        return None
    if best is last:
        return Estimate(0.0, 0.0)
    share = last.value / best.value
    sigma = float(np.hypot(last.sigma, share * best.sigma)) / best.value
    return Estimate(100 * (1 - share), 100 * sigma)


def count_ground_contacts(contacts: Sequence[Contact], *, flights: Sequence[Flight] = ()) -> int:
    """Count the landings of one foot or both together.

    Parameters
    ----------
    contacts : sequence of Contact
    flights : sequence of Flight
        Their landings count even where a touchdown was not measured.

    Returns
    -------
    int
        Nine for three repetitions of three jumps. The landing of a drop from a box counts;
        steps and the short flights between running steps do not (common practice).
    """
    landings_s = [flight.landing.time_s for flight in flights]
    for contact in contacts:
        if contact.start is None:
            continue
        touched_s = contact.start.time_s
        if _in_air_since(touched_s, contacts) >= _RUNNING_FLIGHT_S:
            landings_s.append(touched_s)
    landings_s.sort()
    gaps_s = np.diff(landings_s)
    return int(1 + (gaps_s > _TOGETHER_S).sum()) if landings_s else 0


def _in_air_since(time_s: float, contacts: Sequence[Contact]) -> float:
    """Seconds for which no foot has been on the ground, 0 where one is or that is not known."""
    left_s: list[float] = []
    for foot in FOOT_LANDMARKS:
        own = contacts_of_foot(contacts, foot)
        for number, contact in enumerate(own):
            ended_before = contact.end is not None and contact.end.time_s < time_s
            # A touchdown that was not measured comes after its foot had left: still in the air.
            may_come_later = contact.start is None and number > 0
            comes_later = contact.start is not None and contact.start.time_s > time_s - 1e-9
            if comes_later or (may_come_later and not ended_before):
                continue
            if contact.end is None or not ended_before:
                return 0.0
            left_s.append(contact.end.time_s)
    return time_s - max(left_s) if left_s else 0.0
