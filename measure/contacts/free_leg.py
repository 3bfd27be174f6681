"""Whoever stands on one leg bends the other: tell a low free foot from a standing one by that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from measure.body import joint_flexion_deg
from measure.contacts.coarse import NEAR_EDGE_S, CoarseFlight, Lift
from measure.contacts.hidden import FootEnd
from measure.contacts.plan import EventKind, EventPlan
from measure.types import FOOT_LANDMARKS, Floats, Foot, PoseTrack

__all__ = ["FreeLegSettings", "FreeLegs", "lift_free_legs"]


@dataclass(frozen=True, slots=True)
class FreeLegSettings:
    """What a leg that is held up looks like, and for how long it has to."""

    shorter_m: float = 0.08
    """The model's own metres from hip to ankle: 0.13 and more between a standing and a free leg
    in drawn figures, 0.04 at most between two standing ones (0.12 while one is hidden)."""
    more_bent_deg: float = 15.0
    """Knees of two standing legs differ by up to 10 degrees, a free one by 27 and more."""
    hardly_shorter_m: float = 0.05
    much_more_bent_deg: float = 24.0
    """The model lays a dark free leg onto the other one, and only the knee tells them apart."""
    before_s: tuple[float, float] = (1.5, 0.5)
    """From and until so long before the take-off she is looked at ..."""
    after_s: tuple[float, float] = (0.3, 1.0)
    """... and after the landing."""
    fewest_rows: int = 5
    held_share: float = 0.7
    unrest_s: float = 0.15
    near_end_s: float = 0.3


@dataclass(frozen=True, slots=True)
class FreeLegs:
    """Flights and lifts put right, and the feet that took no part."""

    flights: tuple[CoarseFlight, ...]
    lifts: tuple[Lift, ...]
    idle: frozenset[FootEnd]
    """Feet that were in the air there anyway."""

    def without_idle(self, plans: Sequence[EventPlan]) -> list[EventPlan]:
        """Give the plans of the feet that took part."""
        return [
            plan
            for plan in plans
            if plan.flight is None or (plan.flight, plan.kind, plan.foot) not in self.idle
        ]


def lift_free_legs(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], *, track: PoseTrack, time_s: Floats,
    settings: FreeLegSettings | None = None,
) -> FreeLegs:  # fmt: skip
    """Find the legs that were held up before a take-off or after a landing.

    Parameters
    ----------
    flights : sequence of CoarseFlight
    lifts : sequence of Lift
    track : PoseTrack
        Its ``world_m`` is used: bends do not depend on where the camera stands.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    settings : FreeLegSettings, optional

    Returns
    -------
    FreeLegs

    Notes
    -----
    A free foot held a hand's breadth above the ground all along rests on a floor of its own as
    far as the picture tells; the bent knee and the short leg give it away. *When this is wrong*:
    a leg hidden behind the other one, whose bend is guessed, and an athlete who walks on at once.
    """
    settings = settings or FreeLegSettings()
    held = {foot: _held_up(track, foot, time_s, settings) for foot in FOOT_LANDMARKS}
    idle: set[FootEnd] = set()
    put_right: dict[Lift, Lift] = {}
    lifted: list[CoarseFlight] = []
    for number, flight in enumerate(flights):
        free_s = _free_time_s(number, flights, time_s)
        pair: list[Lift] = []
        for lift in flight.lifts:
            longer = put_right.get(lift, lift)
            for kind in _idle_ends(lift, flight, held[lift.foot], time_s, free_s, settings):
                idle.add((number, kind, lift.foot))
                longer = _longer(longer, kind, held[lift.foot], time_s, free_s, settings)
            put_right[lift] = longer
            pair.append(longer)
        lifted.append(replace(flight, lifts=(pair[0], pair[1])))
    return FreeLegs(tuple(lifted), _without_swallowed(lifts, put_right), frozenset(idle))


def _held_up(
    track: PoseTrack, foot: Foot, time_s: Floats, settings: FreeLegSettings
) -> NDArray[np.bool_]:
    """Tell in which rows a leg is shorter and more bent than the other, shape (T,)."""
    other: Foot = "right" if foot == "left" else "left"
    (own_m, own_deg), (other_m, other_deg) = _leg(track, foot), _leg(track, other)
    shorter_m, bent_deg = other_m - own_m, own_deg - other_deg
    is_held = (shorter_m > settings.shorter_m) & (bent_deg > settings.more_bent_deg)
    is_held |= (shorter_m > settings.hardly_shorter_m) & (bent_deg > settings.much_more_bent_deg)
    row_s = float(np.median(np.diff(time_s)))
    width = 2 * int(settings.unrest_s / 2 / row_s) + 1
    return np.asarray(median_filter(is_held.astype(np.uint8), width) > 0, dtype=np.bool_)


def _leg(track: PoseTrack, foot: Foot) -> tuple[Floats, Floats]:
    """Height of the hip above the ankle in the model's metres, and the knee's bend in degrees."""
    marks, world_m = FOOT_LANDMARKS[foot], track.world_m
    height_m: Floats = world_m[:, marks.ankle, 1] - world_m[:, marks.hip, 1]
    bend_deg = joint_flexion_deg(
        proximal=world_m[:, marks.hip], joint=world_m[:, marks.knee],
        distal=world_m[:, marks.ankle],
    )  # fmt: skip
    return height_m, bend_deg


def _free_time_s(
    number: int, flights: Sequence[CoarseFlight], time_s: Floats
) -> tuple[float, float]:
    """From the landing before to the take-off after."""
    before = flights[number - 1].last_row if number else 0
    after = flights[number + 1].first_row if number + 1 < len(flights) else time_s.shape[0] - 1
    return float(time_s[before]), float(time_s[after])


def _idle_ends(
    lift: Lift, flight: CoarseFlight, is_held: NDArray[np.bool_], time_s: Floats,
    free_s: tuple[float, float], settings: FreeLegSettings,
) -> list[EventKind]:  # fmt: skip
    """Ends of a flight at which a foot seems to take part although its leg was held up."""
    off_s, on_s = float(time_s[flight.first_row]), float(time_s[flight.last_row])
    ends: list[EventKind] = []
    if off_s - time_s[lift.first_row] < NEAR_EDGE_S:
        window = off_s - settings.before_s[0], off_s - settings.before_s[1]
        if _is_mostly_held(is_held, time_s, window, free_s, settings):
            ends.append("take_off")
    if time_s[lift.last_row] - on_s < NEAR_EDGE_S:
        window = on_s + settings.after_s[0], on_s + settings.after_s[1]
        if _is_mostly_held(is_held, time_s, window, free_s, settings):
            ends.append("landing")
    return ends


def _is_mostly_held(
    is_held: NDArray[np.bool_], time_s: Floats, window_s: tuple[float, float],
    free_s: tuple[float, float], settings: FreeLegSettings,
) -> bool:  # fmt: skip
    start_s, end_s = max(window_s[0], free_s[0]), min(window_s[1], free_s[1])
    rows = is_held[(time_s >= start_s) & (time_s <= end_s)]
    return rows.size >= settings.fewest_rows and bool(rows.mean() >= settings.held_share)


def _longer(
    lift: Lift, kind: EventKind, is_held: NDArray[np.bool_], time_s: Floats,
    free_s: tuple[float, float], settings: FreeLegSettings,
) -> Lift:  # fmt: skip
    """Let a lift last for as long as the leg was held up."""
    held = np.flatnonzero(is_held & (time_s >= free_s[0]) & (time_s <= free_s[1]))
    if kind == "take_off":
        first = min(int(held[0]), lift.first_row)
        in_clip = bool(time_s[first] - time_s[0] > settings.near_end_s)
        return replace(lift, first_row=first if in_clip else 0, starts_in_clip=in_clip)
    last = max(int(held[-1]), lift.last_row)
    in_clip = bool(time_s[-1] - time_s[last] > settings.near_end_s)
    return replace(
        lift, last_row=last if in_clip else time_s.shape[0] - 1, ends_in_clip=in_clip
    )


def _without_swallowed(
    lifts: Sequence[Lift], put_right: dict[Lift, Lift]
) -> tuple[Lift, ...]:
    """Lifts in order, without those that lie inside one that was made longer."""
    longer = [new for old, new in put_right.items() if new != old]
    kept = [
        put_right.get(lift, lift)
        for lift in lifts
        if lift in put_right
        or not any(
            lift.foot == one.foot
            and lift.first_row <= one.last_row and lift.last_row >= one.first_row
            for one in longer
        )
    ]  # fmt: skip
    return tuple(sorted(kept, key=lambda lift: (lift.first_row, lift.foot)))
