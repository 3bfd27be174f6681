"""Whether a landing was held: steps, hops, the other foot or a hand down, and for how long."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from measure.ground_contact import contacts_of_foot
from measure.landing.scene import Landing
from measure.types import FEET, FOOT_LANDMARKS, Estimate, Foot, Landmark

__all__ = ["Balance", "BalanceEvent", "BalanceSettings", "watch_balance"]

EventKind = Literal["other_foot_down", "step", "hop", "hand_down"]
_HANDS = (
    Landmark.LEFT_WRIST, Landmark.LEFT_INDEX, Landmark.LEFT_PINKY,
    Landmark.RIGHT_WRIST, Landmark.RIGHT_INDEX, Landmark.RIGHT_PINKY,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class BalanceSettings:
    """What is asked for and what counts as touching the ground."""

    asked_hold_s: float = 1.0
    """About a second is asked for, common practice."""
    long_hold_s: float = 2.0
    """Whoever moves off after this has held the landing, steady or not."""
    hand_above_ankle_statures: float = 0.05
    """A hand lower than this above the lower ankle is on the ground."""
    hand_for_s: float = 0.1
    seen_visibility: float = 0.5
    soft_touch_sigma_s: float = 0.04
    """A free foot is put down slowly: it is near the ground for some hundredths of a second."""
    heel_lift_statures: float = 0.015
    leave_together_s: float = 0.05
    """Feet that leave within this jump; one after the other they step."""


@dataclass(frozen=True, slots=True)
class BalanceEvent:
    """Something that ended the hold."""

    kind: EventKind
    time_s: float
    sigma_s: float
    foot: Foot | None = None


@dataclass(frozen=True, slots=True)
class Balance:
    """How a landing was held."""

    held_s: Estimate
    """From first contact to the first event, the next jump's heel lift, or the clip's end."""
    ended_by: Literal["event", "jump", "clip"]
    events: tuple[BalanceEvent, ...]
    """In order of time."""
    is_lost: bool
    """An event came before the landing was steady and held."""


def watch_balance(
    landing: Landing, *, steady_s: float | None = None, settings: BalanceSettings | None = None
) -> Balance:
    """Tell how long a landing was held and what ended it.

    Parameters
    ----------
    landing : Landing
    steady_s : float or None
        Time to steady, where it is known: walking off afterwards is no loss of balance.
    settings : BalanceSettings, optional

    Returns
    -------
    Balance

    Notes
    -----
    Feet come from the contacts, the hands from the pose. *When this is wrong*: a foot that
    slides or turns without lifting is not seen; a hand hidden behind the body neither.
    """
    settings = settings or BalanceSettings()
    left_s = _both_leave_s(landing, settings)
    if left_s is not None:
        landing = replace(landing, until_s=left_s)
    events = sorted(
        [*_feet_events(landing, settings), *_hand_events(landing, settings)],
        key=lambda event: event.time_s,
    )
    row_s = float(np.median(np.diff(landing.time_s)))
    start = landing.flight.landing
    if events:
        held_s = max(events[0].time_s - start.time_s, 0.0)
        sigma_s = float(np.hypot(start.sigma_s, events[0].sigma_s))
        return Balance(
            Estimate(held_s, sigma_s), "event", tuple(events), _is_lost(held_s, steady_s, settings)
        )
    if landing.next_take_off_s is not None or left_s is not None:
        held_s = _heels_lift_s(landing, settings) - start.time_s
        return Balance(Estimate(held_s, max(0.06, row_s)), "jump", (), False)
    # The last picture stands for one interval more.
    held_s = max(landing.until_s + row_s - start.time_s, 0.0)
    return Balance(Estimate(held_s, float(np.hypot(start.sigma_s, row_s))), "clip", (), False)


def _is_lost(held_s: float, steady_s: float | None, settings: BalanceSettings) -> bool:
    if held_s >= settings.long_hold_s:
        return False
    was_steady = steady_s is None or steady_s <= held_s
    return held_s < settings.asked_hold_s or not was_steady


def _both_leave_s(landing: Landing, settings: BalanceSettings) -> float | None:
    """Give when both feet leave as one: a jump whose own landing was not timed, and no step.

    Sooner than a landing is to be held for, it may have saved the balance.
    """
    if len(landing.landed_feet) < 2:
        return None
    left_s, right_s = (
        [
            contact.end.time_s
            for contact in contacts_of_foot(landing.contacts, foot)
            if contact.end is not None
            and landing.landing_s + settings.asked_hold_s < contact.end.time_s
            and contact.end.time_s < landing.until_s - 0.05
        ]
        for foot in FEET
    )
    both_s = [
        max(one_s, other_s)
        for one_s in left_s
        for other_s in right_s
        if abs(one_s - other_s) < settings.leave_together_s
    ]
    saving_s = [hop.take_off.time_s for hop in landing.saving_hops]
    return min((at for at in both_s if all(abs(at - hop) > 0.1 for hop in saving_s)), default=None)


def _feet_events(landing: Landing, settings: BalanceSettings) -> list[BalanceEvent]:
    events = []
    for foot in FEET:
        if foot in landing.landed_feet:
            events += _leavings(landing, foot)
        else:
            events += _touchdowns(landing, foot, settings)
    return events


def _touchdowns(
    landing: Landing, foot: Foot, settings: BalanceSettings
) -> list[BalanceEvent]:
    """Times at which the free foot comes down."""
    return [
        BalanceEvent(
            "other_foot_down", contact.start.time_s,
            float(np.hypot(contact.start.sigma_s, settings.soft_touch_sigma_s)), foot,
        )
        for contact in landing.contacts
        if contact.foot == foot and contact.start is not None
        and landing.landing_s <= contact.start.time_s < landing.until_s
    ]  # fmt: skip


def _leavings(landing: Landing, foot: Foot) -> list[BalanceEvent]:
    """Times at which a landed foot lifts again, the next jump's take-off left out."""
    own = contacts_of_foot(landing.contacts, foot)
    events = []
    for number, contact in enumerate(own):
        left = contact.end
        if left is None and number + 1 < len(own):
            # The lift was not measured, the next touchdown was: it lies before that.
            left = own[number + 1].start
        if left is None or not landing.landing_s + 0.05 < left.time_s < landing.until_s - 0.05:
            continue
        if _starts_next_jump(landing, left.time_s):
            continue
        kind: EventKind = "hop" if _is_saving_hop(landing, left.time_s) else "step"
        events.append(BalanceEvent(kind, left.time_s, left.sigma_s, foot))
    return events


def _starts_next_jump(landing: Landing, time_s: float) -> bool:
    """Tell whether a foot leaves for the steps or the swing of the next jump.

    A landing that was held for as long as asked and is left within two seconds of the next
    take-off was left to jump, not because balance was lost.
    """
    if landing.next_take_off_s is None:
        return False
    was_held = time_s - landing.landing_s > BalanceSettings().asked_hold_s
    return was_held and landing.next_take_off_s - time_s < 2.0


def _is_saving_hop(landing: Landing, time_s: float) -> bool:
    return any(abs(hop.take_off.time_s - time_s) < 0.1 for hop in landing.saving_hops)


def _hand_events(landing: Landing, settings: BalanceSettings) -> list[BalanceEvent]:
    rows = landing.rows(landing.landing_s + 0.05, landing.until_s)
    px, visibility = landing.track.px[rows], landing.track.visibility[rows]
    ankles_px = px[:, [FOOT_LANDMARKS[foot].ankle for foot in FEET], 1]
    level_px = np.max(ankles_px, axis=1, initial=-np.inf)
    limit_px = level_px - settings.hand_above_ankle_statures * landing.stature_px
    hands = list(_HANDS)
    is_low = (px[:, hands, 1] > limit_px[:, None]) & (
        visibility[:, hands] >= settings.seen_visibility
    )
    # At least two of the three points of one hand, so that one wild point is no hand.
    is_down = (is_low[:, :3].sum(axis=1) >= 2) | (is_low[:, 3:].sum(axis=1) >= 2)
    time_s = landing.time_s[rows]
    row_s = float(np.median(np.diff(landing.time_s)))
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_down.astype(np.int8), [0]])))
    return [
        BalanceEvent("hand_down", float(time_s[first]), row_s)
        for first, after in zip(edges[::2], edges[1::2], strict=True)
        if time_s[after - 1] - time_s[first] >= settings.hand_for_s
    ]


def _heels_lift_s(landing: Landing, settings: BalanceSettings) -> float:
    """Last moment before the next take-off at which the heels are down."""
    rows = landing.rows(landing.landing_s, landing.until_s)
    heels = [FOOT_LANDMARKS[foot].heel for foot in landing.landed_feet]
    heel_px = landing.track.px[rows][:, heels, 1].mean(axis=1)
    seen = np.isfinite(heel_px)
    if not seen.any():
        return landing.until_s
    rest_px = np.percentile(heel_px[seen], 75)
    limit_px = rest_px - settings.heel_lift_statures * landing.stature_px
    is_down = seen & (heel_px >= limit_px)
    return float(landing.time_s[rows[np.flatnonzero(is_down)[-1]]])
