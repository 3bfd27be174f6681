"""Fast or slow: which side of 250 milliseconds a ground contact lies."""

from __future__ import annotations

from typing import Literal

from measure.types import Estimate

__all__ = ["FAST_CONTACT_S", "REBOUND_S", "classify_contact"]

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
