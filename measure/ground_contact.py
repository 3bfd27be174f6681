"""Ground contacts of one foot in order, and which side of 250 milliseconds one lies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measure.types import Contact, Estimate, Foot

__all__ = ["FAST_CONTACT_S", "REBOUND_S", "classify_contact", "contacts_of_foot"]

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
        Contacts of which neither end was measured have no place in time and are left out.
    """

    def place_s(contact: Contact) -> float:
        known = contact.end or contact.start
        return -1.0 if known is None else known.time_s

    placed = [c for c in contacts if c.foot == foot and (c.start or c.end) is not None]
    return sorted(placed, key=place_s)
