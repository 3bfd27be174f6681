"""All jumps of a clip summed up: repetitions, rests, ground contacts, best and mean, sides."""

from __future__ import annotations

from collections.abc import Sequence

from measure.report import JumpReport, SetNumber, SetReport, SideReport
from measure.sets import (
    count_ground_contacts,
    group_repetitions,
    rests_between,
    summarise_set,
)
from measure.sides import compare_sides
from measure.types import Contact, Estimate, Flight, Instant, Refused, Side

__all__ = ["summarise_jumps"]

QUANTITIES = ("height_m", "height_com_m", "rsi_mps")
COMPARED = ("height_com_m", "height_m")
"""Sides are compared by the first of these that every one-legged jump has."""
SIDES: tuple[Side, ...] = ("both", "left", "right")


def summarise_jumps(
    jumps: Sequence[JumpReport], *, contacts: Sequence[Contact],
    untimed_s: Sequence[tuple[float, float]] = (),
) -> SetReport | None:  # fmt: skip
    """Sum up the jumps of one clip.

    Parameters
    ----------
    jumps : sequence of JumpReport
        In order of time.
    contacts : sequence of Contact
    untimed_s : sequence of (float, float)
        Start and end of jumps that were seen and not timed.

    Returns
    -------
    SetReport or None
        None without jumps.

    Notes
    -----
    Jumps off the left foot, the right one and both are never averaged with each other.
    """
    if not jumps:
        return None
    flights = [_flight(jump) for jump in jumps]
    repetitions = group_repetitions(flights, untimed_s=untimed_s)
    rests = rests_between(repetitions)
    return SetReport(
        repetition_count=len(repetitions),
        ground_contact_count=count_ground_contacts(contacts, flights=flights),
        rests_s=tuple(rest.value for rest in rests),
        rests_sigma_s=tuple(rest.sigma for rest in rests),
        numbers=tuple(
            number
            for side in SIDES
            for quantity in QUANTITIES
            if (number := _number(quantity, side, jumps)) is not None
        ),
        sides=_sides(jumps),
    )


def _flight(jump: JumpReport) -> Flight:
    return Flight(
        Instant(jump.take_off_s, jump.take_off_sigma_s),
        Instant(jump.landing_s, jump.landing_sigma_s), jump.take_off_side, jump.landing_side,
    )  # fmt: skip


def _number(quantity: str, side: Side, jumps: Sequence[JumpReport]) -> SetNumber | None:
    """Give best, mean, spread and drop-off; None with fewer than two jumps that have it."""
    measured = [
        (number, estimate)
        for number, jump in enumerate(jumps, start=1)
        if jump.take_off_side == side and (estimate := _estimate(jump, quantity)) is not None
    ]
    if len(measured) < 2:
        return None
    summary = summarise_set([estimate for _, estimate in measured])
    drop_off = summary.drop_off_pct
    return SetNumber(
        quantity=quantity, take_off_side=side, count=summary.count,
        best=summary.best.value, best_sigma=summary.best.sigma,
        best_jump=measured[summary.best_number - 1][0],
        mean=summary.mean.value, mean_sigma=summary.mean.sigma, spread=summary.spread,
        drop_off_pct=None if drop_off is None else drop_off.value,
        drop_off_sigma_pct=None if drop_off is None else drop_off.sigma,
    )  # fmt: skip


def _sides(jumps: Sequence[JumpReport]) -> SideReport | None:
    one_legged = [jump for jump in jumps if jump.take_off_side != "both"]
    for quantity in COMPARED:
        estimates = {
            side: [_estimate(jump, quantity) for jump in one_legged if jump.take_off_side == side]
            for side in ("left", "right")
        }
        left, right = (
            [one for one in estimates[side] if one is not None] for side in ("left", "right")
        )
        if len(left) + len(right) < len(one_legged) or not (left and right):
            continue
        compared = compare_sides(left=summarise_set(left).mean, right=summarise_set(right).mean)
        if isinstance(compared, Refused):
            return None
        difference = compared.difference_pct
        return SideReport(
            quantity, difference.value, difference.sigma, compared.weaker, compared.text
        )
    return None


def _estimate(jump: JumpReport, quantity: str) -> Estimate | None:
    stem, unit = quantity.rsplit("_", 1)
    value, sigma = getattr(jump, quantity), getattr(jump, f"{stem}_sigma_{unit}")
    return None if value is None or sigma is None else Estimate(value, sigma)
