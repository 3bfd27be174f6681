"""Ground contacts of one foot in order, and which side of 250 milliseconds one lies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measure.types import Contact, Estimate, Flight, Foot

__all__ = [
    "FAST_CONTACT_S", "REBOUND_S", "classify_contact", "contacts_of_foot", "follows_untimed",
]  # fmt: skip

FAST_CONTACT_S = 0.250
"""Schmidtbleicher 1992, quoted from memory; the line itself is common in teaching."""
REBOUND_S = 0.6
"""A flight that starts sooner than this after a landing is its rebound, not a new repetition."""


def classify_contact(contact_time_s: Estimate) -> Literal["fast", "slow", "borderline"]:
    """Tell a fast stretch-shortening contact from a slow one.

    Parameters
    ----------
    contact_time_s : Estimate
        Seconds.

    Returns
    -------
    str
        ``borderline`` within one sigma of 250 ms.
    """
    if abs(contact_time_s.value - FAST_CONTACT_S) < contact_time_s.sigma:
        return "borderline"
    return "fast" if contact_time_s.value < FAST_CONTACT_S else "slow"


def contacts_of_foot(contacts: Sequence[Contact], foot: Foot) -> list[Contact]:
    """Give one foot's contacts in order of time, by whichever end was measured.

    Parameters
    ----------
    contacts : sequence of Contact
        In any order.
    foot : {"left", "right"}

    Returns
    -------
    list of Contact
        By the poses' rough start where neither end was measured; contacts without that either
        have no place in time and are left out.
    """
    placed = [
        (place_s, contact)
        for contact in contacts
        if contact.foot == foot and (place_s := _place_s(contact)) is not None
    ]
    return [contact for _, contact in sorted(placed, key=lambda one: one[0])]


def _place_s(contact: Contact) -> float | None:
    known = contact.end or contact.start
    return contact.rough_start_s if known is None else known.time_s


def follows_untimed(
    flight: Flight, untimed_s: Sequence[tuple[float, float]], *, within_s: float = REBOUND_S
) -> bool:
    """Tell whether a flight is the rebound of a jump that was seen and not timed.

    Parameters
    ----------
    flight : Flight
    untimed_s : sequence of (float, float)
        Start and end of such jumps, as poses have them.
    within_s : float
        Longest time on the ground.

    Returns
    -------
    bool
    """
    return any(0 < flight.take_off.time_s - end_s < within_s for _, end_s in untimed_s)
