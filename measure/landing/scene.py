"""One landing with what surrounds it: the time that belongs to it, its contacts, its view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.contacts.floor import stature_in_px
from measure.ground_contact import REBOUND_S
from measure.landing.stance import name_standing_leg
from measure.types import (
    FEET,
    Contact,
    Flight,
    Floats,
    Foot,
    Landmark,
    PoseTrack,
    Refused,
    Scale,
    View,
)
from measure.view import SeenView, assess_view

__all__ = ["Landing", "SceneSettings", "set_scenes"]


@dataclass(frozen=True, slots=True)
class SceneSettings:
    """What belongs to a landing."""

    absorbing_s: float = 0.9
    """The deepest posture is looked for this long after the first contact."""
    together_s: float = 0.25
    """A second foot that comes down within this is part of the landing, not a step."""
    rebound_s: float = REBOUND_S
    saving_hop_share: float = 0.4
    """A flight shorter than this share of the one before, soon after its landing, saves a
    balance; it is no repetition."""
    saving_hop_within_s: float = 2.0
    rough_late_s: float = 0.05
    """Poses see a take-off later than this at most."""


@dataclass(frozen=True, slots=True)
class Landing:
    """One landing, cut out of a clip. Times are real seconds."""

    track: PoseTrack
    """Cleaned, of the whole clip."""
    time_s: Floats
    flight: Flight
    contacts: tuple[Contact, ...]
    """All contacts of the clip."""
    until_s: float
    """Take-off of the next jump, or the end of the clip."""
    next_take_off_s: float | None
    """Of the next jump, timed or seen by the poses alone, where there is one."""
    saving_hops: tuple[Flight, ...]
    """Small flights between this landing and ``until_s``."""
    view: SeenView | Refused
    """From where this landing is seen."""
    stature_px: float
    scale: Scale | None
    settings: SceneSettings

    @property
    def landing_s(self) -> float:
        """First contact."""
        return self.flight.landing.time_s

    @property
    def landed_feet(self) -> tuple[Foot, ...]:
        """Feet that the flight says were landed on."""
        side = self.flight.landing_side
        return FEET if side == "both" else (side,)

    @property
    def is_rebounded(self) -> bool:
        """The next jump follows at once, as in a row of hops."""
        next_s = self.next_take_off_s
        return next_s is not None and next_s - self.landing_s < self.settings.rebound_s

    def view_is(self, view: View) -> bool:
        """Tell whether this landing is seen from there."""
        return isinstance(self.view, SeenView) and self.view.view == view

    def rows(self, start_s: float, end_s: float) -> NDArray[np.int64]:
        """Rows of the track between two times, both included."""
        return np.flatnonzero((self.time_s >= start_s) & (self.time_s <= end_s))

    def absorbing_rows(self) -> NDArray[np.int64]:
        """Rows in which the landing is taken up."""
        end_s = min(self.until_s, self.landing_s + self.settings.absorbing_s)
        return self.rows(self.landing_s, end_s)

    def touchdown(self, foot: Foot) -> Contact | None:
        """Give the contact that this landing began for a foot, None where it has no start."""
        near = [
            contact
            for contact in self.contacts
            if contact.foot == foot and contact.start is not None
            and abs(contact.start.time_s - self.landing_s) <= self.settings.together_s
        ]  # fmt: skip
        return near[0] if near else None

    def is_inside(self, mark: Landmark) -> NDArray[np.bool_]:
        """Tell in which rows a point lies within the picture; shape (T,)."""
        x_px, y_px = self.track.px[:, mark].T
        inside = (x_px > 0) & (x_px < self.track.width_px) & (y_px > 0)
        return np.asarray(inside & (y_px < self.track.height_px), dtype=np.bool_)

    def hips_px(self) -> Floats:
        """Middle of the hips, shape (T, 2)."""
        hips: Floats = self.track.px[:, [Landmark.LEFT_HIP, Landmark.RIGHT_HIP]].mean(axis=1)
        return hips

    def deepest_row(self) -> int | None:
        """Row in which the hips are lowest while the landing is taken up."""
        rows = self.absorbing_rows()
        depth_px = self.hips_px()[rows, 1]
        return int(rows[np.nanargmax(depth_px)]) if np.isfinite(depth_px).any() else None


def set_scenes(
    track: PoseTrack, *, time_s: Floats, flights: Sequence[Flight],
    contacts: Sequence[Contact], scale: Scale | None = None,
    untimed_s: Sequence[tuple[float, float]] = (),
) -> tuple[Landing, ...]:  # fmt: skip
    """Cut a clip into its landings.

    Parameters
    ----------
    track : PoseTrack
        Legs restored, cleaned.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    flights : sequence of Flight
        In order of time.
    contacts : sequence of Contact
    scale : Scale, optional
        Needed for speeds only.
    untimed_s : sequence of (float, float)
        Jumps that were seen and not timed.

    Returns
    -------
    tuple of Landing
        One for each flight, in order; a small hop that saves a balance has its own too.
    """
    settings = SceneSettings()
    stature_px = stature_in_px(track)
    scenes = []
    for number, flight in enumerate(flights):
        later = list(flights[number + 1 :])
        saving = _saving_hops(flight, later, settings)
        jumps = later[len(saving) :]
        landing_s = flight.landing.time_s
        next_s = _next_take_off_s(flight, jumps, untimed_s, settings)
        until_s = float(time_s[-1]) if next_s is None else next_s
        view = assess_view(
            track, time_s=time_s, start_s=landing_s - 0.1, end_s=min(until_s, landing_s + 0.6)
        )
        named = _with_standing_leg(track, time_s, flight, contacts, stature_px)
        scenes.append(Landing(
            named, time_s, flight, tuple(contacts), until_s, next_s,
            tuple(saving), view, stature_px, scale, settings,
        ))  # fmt: skip
    return tuple(scenes)


def _next_take_off_s(
    flight: Flight, jumps: Sequence[Flight], untimed_s: Sequence[tuple[float, float]],
    settings: SceneSettings,
) -> float | None:  # fmt: skip
    """Give when the next jump starts, timed or not."""
    starts_s = [jump.take_off.time_s for jump in jumps]
    for start_s, end_s in untimed_s:
        # The poses see a flight shorter than it is by about so much.
        lasts_s = end_s - start_s + settings.rough_late_s
        if not _is_saving(flight, start_s=start_s, lasts_s=lasts_s, settings=settings):
            starts_s.append(start_s - settings.rough_late_s)
    landing_s = flight.landing.time_s
    return min((start_s for start_s in starts_s if start_s > landing_s), default=None)


def _is_saving(
    flight: Flight, *, start_s: float, lasts_s: float, settings: SceneSettings
) -> bool:
    """Tell a small hop soon after a landing."""
    length_s = flight.landing.time_s - flight.take_off.time_s
    is_small = lasts_s < settings.saving_hop_share * length_s
    return is_small and start_s - flight.landing.time_s < settings.saving_hop_within_s


def _with_standing_leg(
    track: PoseTrack, time_s: Floats, flight: Flight, contacts: Sequence[Contact],
    stature_px: float,
) -> PoseTrack:  # fmt: skip
    """Name the legs of a landing on one foot by which of them stands."""
    foot = flight.landing_side
    if foot == "both":
        return track
    landing_s = flight.landing.time_s
    other_s = [
        contact.start.time_s
        for contact in contacts
        if contact.foot != foot and contact.start is not None and contact.start.time_s > landing_s
    ]
    own_end_s = [
        contact.end.time_s
        for contact in contacts
        if contact.foot == foot and contact.end is not None and contact.end.time_s > landing_s
    ]
    alone_until_s = min([*other_s, *own_end_s, float(time_s[-1])])
    rows = np.flatnonzero((time_s >= landing_s - 0.05) & (time_s <= alone_until_s))
    return name_standing_leg(track, foot=foot, rows=rows, stature_px=stature_px)


def _saving_hops(flight: Flight, later: list[Flight], settings: SceneSettings) -> list[Flight]:
    """Give the flights right after a landing that only save the balance."""
    saving: list[Flight] = []
    for hop in later:
        start_s = hop.take_off.time_s
        lasts_s = hop.landing.time_s - start_s
        if not _is_saving(flight, start_s=start_s, lasts_s=lasts_s, settings=settings):
            break
        saving.append(hop)
    return saving
