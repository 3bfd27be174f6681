"""Make one take-off or landing of what both feet say."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from measure.contacts.doubt import JudgeSettings, doubt_if_hidden
from measure.contacts.judge import FootEvent
from measure.contacts.plan import EventKind
from measure.types import Instant, Side

__all__ = ["cover_each_other", "fuse_feet"]

SAME_PLACE_SHARE = 0.4
"""Ends of two shoes that share so much of the picture cover each other: of the farther one nearly
all that is seen lies higher."""


def fuse_feet(
    events: Sequence[FootEvent], *, kind: EventKind, foot_count: int | None = None,
    settings: JudgeSettings | None = None,
) -> tuple[Instant, Side] | None:  # fmt: skip
    """Make one take-off or landing of the feet that took part.

    Feet that agree within two of their sigmas left (or landed) together and are averaged; otherwise
    the last to leave and the first to land count, and since the feet of one jump leave nearly
    together, half of what they seem to leave apart is doubt. Feet that cover each other are one
    shoe seen twice: that makes nothing surer, what they lie apart is its misfit, and the hidden one
    may have landed first.

    Parameters
    ----------
    events : sequence of FootEvent
        At most one per foot.
    kind : {"take_off", "landing"}
    foot_count : int, optional
        How many feet took part, the untimed ones included; by default those that were timed.
    settings : JudgeSettings, optional

    Returns
    -------
    (Instant, Side) or None
        None without events.
    """
    settings = settings or JudgeSettings()
    if not events:
        return None
    if len(events) == 1:
        alone, factor = events[0].instant, 1.0
        if events[0].patch_count == 1:
            factor = settings.alone_factor
        elif kind == "take_off" and foot_count == 2:
            factor = settings.half_seen_factor
        return Instant(alone.time_s, factor * alone.sigma_s), events[0].foot
    instant, side = _of_both(events, kind, settings)
    if cover_each_other(*events):
        surest_s = min(event.instant.sigma_s for event in events)
        apart_s = abs(events[0].instant.time_s - events[1].instant.time_s)
        misfit_s = min(apart_s / 2, settings.most_covered_misfit_s)
        sigma_s = max(instant.sigma_s, surest_s)
        if kind == "landing":
            sigma_s = doubt_if_hidden(sigma_s, settings)
        instant = Instant(instant.time_s, math.hypot(sigma_s, misfit_s))
    return instant, side


def _of_both(
    events: Sequence[FootEvent], kind: EventKind, settings: JudgeSettings
) -> tuple[Instant, Side]:
    """Mean of feet that move together; else the last to leave and the first to land."""
    a, b = events[0].instant, events[1].instant
    apart_s, sigma_s = abs(a.time_s - b.time_s), math.hypot(a.sigma_s, b.sigma_s)
    if apart_s < 2 * sigma_s:
        share = b.sigma_s**2 / (a.sigma_s**2 + b.sigma_s**2)  # of the first foot, in the mean
        shares = (share, 1 - share)
        own_s = [
            part * math.sqrt(event.instant.sigma_s**2 - event.shared_s**2)
            for part, event in zip(shares, events, strict=True)
        ]
        shared_s = sum(part * event.shared_s for part, event in zip(shares, events, strict=True))
        mean = shares[0] * a.time_s + shares[1] * b.time_s
        return Instant(mean, math.hypot(*own_s, shared_s)), "both"
    pick = max if kind == "take_off" else min
    chosen = pick(events, key=lambda event: event.instant.time_s)
    other = events[1] if chosen is events[0] else events[0]
    if apart_s > settings.one_jump_s:
        return chosen.instant, chosen.foot
    if chosen.patch_count == 1 < other.patch_count:
        # One patch that followed something else overrules no foot that several agree on.
        chosen = other
    elif kind == "landing":
        return chosen.instant, chosen.foot
    # One of the two is mistaken: feet land one by one, but they leave nearly together.
    sigma_s = math.hypot(chosen.instant.sigma_s, apart_s / 2)
    return Instant(chosen.instant.time_s, sigma_s), chosen.foot


def cover_each_other(one: FootEvent, other: FootEvent) -> bool:
    """Tell whether one foot stood before the other: both were timed by much the same pixels."""
    if one.place_px is None or other.place_px is None:
        return False
    a, b = np.array(one.place_px), np.array(other.place_px)
    shared_px = np.clip(np.minimum(a[2:], b[2:]) - np.maximum(a[:2], b[:2]), 0, None)
    smaller_px2 = min(float(np.prod(box[2:] - box[:2])) for box in (a, b))
    return bool(np.prod(shared_px) > SAME_PLACE_SHARE * smaller_px2)
