"""A leg hidden behind the other seems to float before and after a flight: put it on the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from measure.contacts.coarse import NEAR_EDGE_S, CoarseFlight, Lift
from measure.contacts.floor import FootHeights
from measure.contacts.plan import KINDS, EventKind
from measure.types import FOOT_LANDMARKS, Floats, Foot, PoseTrack

__all__ = ["FootEnd", "GroundedFeet", "HiddenSettings", "ground_hidden_feet"]

FootEnd = tuple[int, EventKind, Foot]
"""Number of a flight, its take-off or landing, and a foot."""
FEWEST_BESIDE = 2


@dataclass(frozen=True, slots=True)
class HiddenSettings:
    """When a foot that seems to float is a standing one that the picture does not show."""

    seen_visibility: float = 0.65
    """A leg that the model believes in less is hidden behind the other one."""
    floats_below_statures: float = 0.08
    """A free foot is held higher than this while the other one pushes off or lands: 0.23 and
    more in drawn jumps on one leg."""
    beside_s: float = 0.10
    crouching_statures: float = 0.05
    same_statures: float = 0.01
    still_statures: float = 0.004
    """A foot that pushed off from a height lower than the first, comes back to that height and
    stays on it is one that the model draws too high in a crouch: a free one swings."""
    unseen_share: float = 0.8
    """A lift of which, outside the flight, so much was not seen at all is only a bridge from
    one sight of the foot to the next."""


@dataclass(frozen=True, slots=True)
class GroundedFeet:
    """Flights and lifts with hidden feet on the ground."""

    flights: tuple[CoarseFlight, ...]
    lifts: tuple[Lift, ...]
    """In order of their first row."""
    unseen: frozenset[FootEnd]
    """Feet that stood there without being seen: nothing to look at, and yet they took part."""


def ground_hidden_feet(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], *, heights: FootHeights,
    track: PoseTrack, time_s: Floats, settings: HiddenSettings | None = None,
) -> GroundedFeet:  # fmt: skip
    """Let the lifts of hidden, low feet begin and end with the flight.

    Parameters
    ----------
    flights : sequence of CoarseFlight
    lifts : sequence of Lift
    heights : FootHeights
    track : PoseTrack
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    settings : HiddenSettings, optional

    Returns
    -------
    GroundedFeet

    Notes
    -----
    A jump on one leg is told from one on two by where the other foot is just before the take-off
    and just after the landing. Seen from the side the far leg of a crouching athlete is guessed
    by the model, several centimetres too high. *When this is wrong*: a hidden free foot that is
    held lower than a hand's breadth is taken for a standing one.
    """
    settings = settings or HiddenSettings()
    scene = _Scene(heights, track, time_s, settings)
    put_right: dict[Lift, Lift] = {}
    unseen: set[FootEnd] = set()
    grounded: list[CoarseFlight] = []
    for number, flight in enumerate(flights):
        pair: list[Lift] = []
        for lift in flight.lifts:
            shorter = lift
            for kind in scene.ends_to_cut(lift, flight) if _is_of_one(lift, flights) else ():
                shorter = _cut(shorter, flight, kind)
                if scene.is_unseen(lift, flight, kind=kind):
                    unseen.add((number, kind, lift.foot))
            put_right[lift] = shorter
            pair.append(shorter)
        grounded.append(replace(flight, lifts=(pair[0], pair[1])))
    kept = [put_right.get(lift, lift) for lift in lifts]
    kept.sort(key=lambda lift: (lift.first_row, lift.foot))
    return GroundedFeet(tuple(grounded), tuple(kept), frozenset(unseen))


def _cut(lift: Lift, flight: CoarseFlight, kind: EventKind) -> Lift:
    if kind == "take_off":
        return replace(lift, first_row=flight.first_row, starts_in_clip=True)
    return replace(lift, last_row=flight.last_row, ends_in_clip=True)


def _is_of_one(lift: Lift, flights: Sequence[CoarseFlight]) -> bool:
    return sum(lift in flight.lifts for flight in flights) == 1


def _outside(lift: Lift, flight: CoarseFlight, kind: EventKind) -> tuple[int, int]:
    """First and last row of the part of a lift before or after its flight."""
    if kind == "take_off":
        return lift.first_row, flight.first_row
    return flight.last_row, lift.last_row


@dataclass(frozen=True, slots=True)
class _Scene:
    heights: FootHeights
    track: PoseTrack
    time_s: Floats
    settings: HiddenSettings

    def ends_to_cut(self, lift: Lift, flight: CoarseFlight) -> list[EventKind]:
        """Ends of a flight outside which a lift only seems to go on."""
        ends: list[EventKind] = []
        for kind in KINDS:
            first, last = _outside(lift, flight, kind)
            reaches_s = self.time_s[last] - self.time_s[first]
            if reaches_s > NEAR_EDGE_S and (
                self.is_unseen(lift, flight, kind=kind)
                or self._stands(lift.foot, flight, kind=kind)
                or self._comes_back(lift.foot, flight)
            ):
                ends.append(kind)
        return ends

    def is_unseen(self, lift: Lift, flight: CoarseFlight, *, kind: EventKind) -> bool:
        """Tell whether the part of a lift outside its flight is but a bridge over no sight."""
        first, last = _outside(lift, flight, kind)
        toe = FOOT_LANDMARKS[lift.foot].toe
        is_seen = np.isfinite(self.track.px[first : last + 1, toe, 1])
        bridges = lift.starts_in_clip if kind == "take_off" else lift.ends_in_clip
        return bridges and bool(is_seen.mean() <= 1 - self.settings.unseen_share)

    def _comes_back(self, foot: Foot, flight: CoarseFlight) -> bool:
        """Tell whether a low foot is as high and as still after a flight as before it."""
        settings = self.settings
        sides = [self._beside(foot, flight, kind=kind) for kind in KINDS]
        if min(side.size for side in sides) < FEWEST_BESIDE:
            return False
        before, after = (float(np.median(side)) for side in sides)
        return bool(
            max(before, after) < settings.crouching_statures
            and abs(after - before) < settings.same_statures
            and max(float(np.std(side)) for side in sides) < settings.still_statures
        )

    def _beside(self, foot: Foot, flight: CoarseFlight, *, kind: EventKind) -> Floats:
        """Heights of a foot just outside a flight, statures."""
        row, away = (flight.first_row, -1) if kind == "take_off" else (flight.last_row, 1)
        since_s = away * (self.time_s - self.time_s[row])
        beside = (since_s > 0.005) & (since_s < self.settings.beside_s)
        return np.asarray(self.heights.of(foot)[beside])

    def _stands(self, foot: Foot, flight: CoarseFlight, *, kind: EventKind) -> bool:
        row, away = (flight.first_row, -1) if kind == "take_off" else (flight.last_row, 1)
        since_s = away * (self.time_s - self.time_s[row])
        beside = (since_s > 0.005) & (since_s < self.settings.beside_s)
        if not beside.any():
            return False
        marks = FOOT_LANDMARKS[foot]
        seen = self.track.visibility[beside][:, [marks.knee, marks.ankle]]
        return bool(
            np.median(self.heights.of(foot)[beside]) < self.settings.floats_below_statures
            and np.median(seen) < self.settings.seen_visibility
        )
