"""A leg hidden behind the other seems to float before and after a flight: put it on the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from measure.contacts.coarse import CoarseFlight, Lift
from measure.contacts.floor import FootHeights
from measure.contacts.plan import EventKind
from measure.types import FOOT_LANDMARKS, Floats, Foot, PoseTrack

__all__ = ["HiddenSettings", "ground_hidden_feet"]


@dataclass(frozen=True, slots=True)
class HiddenSettings:
    """When a foot that seems to float is a standing one that the picture does not show."""

    seen_visibility: float = 0.65
    """A leg that the model believes in less is hidden behind the other one."""
    floats_below_statures: float = 0.08
    """A free foot is held higher than this while the other one pushes off or lands: 0.23 and
    more in drawn jumps on one leg."""
    edge_s: float = 0.16
    """A lift that begins or ends nearer to the flight's edge needs no help."""
    beside_s: float = 0.10


def ground_hidden_feet(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], *, heights: FootHeights,
    track: PoseTrack, time_s: Floats, settings: HiddenSettings | None = None,
) -> tuple[list[CoarseFlight], list[Lift]]:  # fmt: skip
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
    flights : list of CoarseFlight
        The same ones, with their lifts put right.
    lifts : list of Lift
        In order of their first row.

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
    grounded = []
    for flight in flights:
        pair = [
            scene.shorten(lift, flight) if _is_of_one(lift, flights) else lift
            for lift in flight.lifts
        ]
        put_right |= dict(zip(flight.lifts, pair, strict=True))
        grounded.append(replace(flight, lifts=(pair[0], pair[1])))
    kept = [put_right.get(lift, lift) for lift in lifts]
    return grounded, sorted(kept, key=lambda lift: (lift.first_row, lift.foot))


def _is_of_one(lift: Lift, flights: Sequence[CoarseFlight]) -> bool:
    return sum(lift in flight.lifts for flight in flights) == 1


@dataclass(frozen=True, slots=True)
class _Scene:
    heights: FootHeights
    track: PoseTrack
    time_s: Floats
    settings: HiddenSettings

    def shorten(self, lift: Lift, flight: CoarseFlight) -> Lift:
        """Cut the parts of a lift in which the foot only seems to float."""
        early_s = self.time_s[flight.first_row] - self.time_s[lift.first_row]
        if early_s > self.settings.edge_s and self._stands(lift.foot, flight, kind="take_off"):
            lift = replace(lift, first_row=flight.first_row, starts_in_clip=True)
        late_s = self.time_s[lift.last_row] - self.time_s[flight.last_row]
        if late_s > self.settings.edge_s and self._stands(lift.foot, flight, kind="landing"):
            lift = replace(lift, last_row=flight.last_row, ends_in_clip=True)
        return lift

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
