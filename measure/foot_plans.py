"""Which feet took part in each flight, and what to look at closely for it."""

from __future__ import annotations

from dataclasses import dataclass

from measure.contacts.coarse import CoarseFlight, Lift, find_lifts
from measure.contacts.drops import aim_at_drops
from measure.contacts.foot_paths import FootPaths
from measure.contacts.free_leg import lift_free_legs
from measure.contacts.hidden import FootEnd, ground_hidden_feet
from measure.contacts.plan import EventPlan, plan_events
from measure.scene import Scene, foot_paths

__all__ = ["FootPlans", "plan_feet"]


@dataclass(frozen=True, slots=True)
class FootPlans:
    """Flights and lifts as far as poses tell, and the events to look at in the picture."""

    flights: tuple[CoarseFlight, ...]
    lifts: tuple[Lift, ...]
    plans: tuple[EventPlan, ...]
    paths: FootPaths
    unseen: frozenset[FootEnd]
    """Feet that took part without being seen."""


def plan_feet(scene: Scene, *, picture_px: tuple[int, int]) -> FootPlans:
    """Plan the close look at every foot of a clip.

    Parameters
    ----------
    scene : Scene
    picture_px : tuple
        Width and height of the upright picture.

    Returns
    -------
    FootPlans
        Hidden feet stand, free legs are up, and landings off a box are looked for where they are.
    """
    track, time_s = scene.track, scene.time_s
    grounded = ground_hidden_feet(
        scene.flights, find_lifts(scene.heights), heights=scene.heights, track=track,
        time_s=time_s,
    )  # fmt: skip
    legs = lift_free_legs(grounded.flights, grounded.lifts, track=track, time_s=time_s)
    paths = foot_paths(scene)
    plans = plan_events(
        legs.flights, legs.lifts, scene.heights, paths, time_s=time_s, distinct=scene.distinct,
        picture_px=picture_px,
    )  # fmt: skip
    plans = aim_at_drops(
        legs.without_idle(plans), legs.flights, frame_time_s=scene.frame_time_s
    )
    return FootPlans(legs.flights, legs.lifts, tuple(plans), paths, grounded.unseen)
