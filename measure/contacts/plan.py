"""Which foot events to look at closely, and which pictures and pixels that needs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from measure.contacts.coarse import NEAR_EDGE_S, CoarseFlight, Lift
from measure.contacts.floor import Flags, FootHeights
from measure.contacts.foot_paths import FootPaths
from measure.types import FEET, FOOT_LANDMARKS, Floats, Foot

COARSE_SHORT_S = 0.05
"""Coarse flights are shorter than real ones: a foot must be clear of the floor to count."""
EventKind = Literal["take_off", "landing"]
KINDS: tuple[EventKind, EventKind] = ("take_off", "landing")
Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class EventPlan:
    """One foot leaving or meeting the ground: where and when to look."""

    kind: EventKind
    foot: Foot
    flight: int | None
    """Number of the flight that this event begins or ends; None for a step."""
    coarse_s: float
    speed_mps: float
    """Speed at which the foot leaves or meets the ground: the body's in a flight, pose's own in
    a step."""
    frames: Rows
    """Frames in which the foot is followed, in time order."""
    reference: int
    """The frame, among ``frames``, in which the foot surely stands."""
    empty_frames: Rows
    """Frames that may show the ground behind the foot."""
    box: tuple[int, int, int, int]
    """Left, top, right, bottom of the pixels needed, in the upright picture."""


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """Times in seconds, lengths in metres."""

    reach_s: float = 0.11
    """Pictures up to this far from the coarse event are looked at ..."""
    longest_push_s: float = 0.04
    """... and after a take-off so much longer: of a foot that bends, poses see the ball leave that
    much before the toes do."""
    planted_before_s: float = 0.055
    """So long before the coarse take-off the foot surely stands."""
    planted_after_s: float = 0.050
    slow_rate_margin_s: float = 0.030
    """Added to one picture interval: coarse events of slow clips are coarser."""
    settled_s: float = 0.025
    """Added to one and a half after a landing: the coarse one may be a picture early, and the
    picture that is taken half a one earlier still."""
    side_m: float = 0.42
    above_m: float = 0.60
    below_m: float = 0.14
    empty_reach_s: float = 1.5
    low_statures: float = 0.035
    """A foot lower than this just outside a flight stands."""
    up_statures: float = 0.08
    """A foot higher than this just outside a flight does not."""
    before_jump_s: float = 1.2
    after_jump_s: float = 2.5
    """Steps this near to a jump belong to it: the plant before, a lost balance after."""
    lowest_step_statures: float = 0.025
    shortest_step_s: float = 0.04
    own_edge_s: float = 0.06
    """A foot that poses see leave or land so far outside the flight is looked for there."""


def plan_events(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], heights: FootHeights,
    paths: FootPaths, *, time_s: Floats, distinct: Flags, picture_px: tuple[int, int],
) -> list[EventPlan]:  # fmt: skip
    """Plan a close look at every foot that leaves or meets the ground in or near a jump.

    Parameters
    ----------
    flights : sequence of CoarseFlight
    lifts : sequence of Lift
    heights : FootHeights
    paths : FootPaths
    time_s : ndarray of shape (T,)
        Real time of the pose rows that flights, lifts and heights refer to.
    distinct : ndarray of shape (N,)
        Which frames show a picture of their own.
    picture_px : tuple
        Width and height of the upright picture.

    Returns
    -------
    list of EventPlan
        Those of the flights first, then single steps.
    """
    scene = _PlanScene(heights, paths, time_s, distinct, picture_px, PlanSettings())
    return [*_flight_plans(flights, scene), *_step_plans(flights, lifts, scene)]


@dataclass(frozen=True, slots=True)
class _PlanScene:
    heights: FootHeights
    paths: FootPaths
    time_s: Floats
    distinct: Flags
    picture_px: tuple[int, int]
    settings: PlanSettings


def _flight_plans(flights: Sequence[CoarseFlight], scene: _PlanScene) -> Iterator[EventPlan]:
    """Look at every foot that leaves last or lands first."""
    time_s = scene.time_s
    for number, flight in enumerate(flights):
        airborne_s = time_s[flight.last_row] - time_s[flight.first_row] + COARSE_SHORT_S
        speed_mps = float(np.clip(9.80665 * airborne_s / 2, 0.7, 3.6))
        for kind in KINDS:
            for foot in _feet_taking_part(flight, kind=kind, scene=scene):
                at_s = _edge_s(flight, kind=kind, foot=foot, scene=scene)
                yield from _plan_one(
                    scene, kind=kind, foot=foot, coarse_s=at_s, flight=number, speed_mps=speed_mps
                )


def _edge_s(
    flight: CoarseFlight, *, kind: EventKind, foot: Foot, scene: _PlanScene
) -> float:
    """When poses see a foot leave or land: its own lift's end where that is the flight's too."""
    lift = flight.lifts[FEET.index(foot)]
    if kind == "take_off":
        row, own, in_clip = flight.first_row, lift.first_row, lift.starts_in_clip
    else:
        row, own, in_clip = flight.last_row, lift.last_row, lift.ends_in_clip
    edge_s, own_s = float(scene.time_s[row]), float(scene.time_s[own])
    return own_s if in_clip and abs(own_s - edge_s) < scene.settings.own_edge_s else edge_s


def _step_plans(
    flights: Sequence[CoarseFlight], lifts: Sequence[Lift], scene: _PlanScene
) -> Iterator[EventPlan]:
    """Look at every single foot's step near a jump that is no part of a flight's edge."""
    time_s, settings = scene.time_s, scene.settings
    edges = [(time_s[one.first_row], time_s[one.last_row]) for one in flights]
    for lift in lifts:
        height = scene.heights.of(lift.foot)[lift.first_row : lift.last_row + 1]
        lasts_s = time_s[lift.last_row] - time_s[lift.first_row]
        if height.max() < settings.lowest_step_statures or lasts_s < settings.shortest_step_s:
            continue
        ends: list[tuple[EventKind, int]] = []
        if lift.starts_in_clip:
            ends.append(("take_off", lift.first_row))
        if lift.ends_in_clip:
            ends.append(("landing", lift.last_row))
        for kind, row in ends:
            at_s = float(time_s[row])
            if _belongs_to_a_jump(at_s, kind=kind, edges=edges, settings=settings):
                yield from _plan_one(
                    scene, kind=kind, foot=lift.foot, coarse_s=at_s, flight=None,
                    speed_mps=_step_speed(scene, lift.foot, row, kind=kind),
                )  # fmt: skip


def _belongs_to_a_jump(
    at_s: float, *, kind: EventKind, edges: Sequence[tuple[float, float]], settings: PlanSettings
) -> bool:
    """Tell whether a step lies near a jump and is not the jump's own take-off or landing."""
    near = any(
        start - settings.before_jump_s < at_s < end + settings.after_jump_s for start, end in edges
    )
    own = any(
        abs(at_s - (start if kind == "take_off" else end)) < NEAR_EDGE_S
        for start, end in edges
    )
    return near and not own


def _step_speed(scene: _PlanScene, foot: Foot, row: int, *, kind: EventKind) -> float:
    """How fast pose's foot rises after it left, or falls before it lands."""
    stride = scene.heights.stride
    far = row + 2 * stride if kind == "take_off" else row - 2 * stride
    far = int(np.clip(far, 0, scene.time_s.shape[0] - 1))
    height = scene.heights.of(foot)
    lasts_s = max(abs(float(scene.time_s[far] - scene.time_s[row])), 1e-3)
    speed = abs(float(height[far] - height[row])) / lasts_s * scene.paths.standing_m
    return float(np.clip(speed, 0.4, 3.0))


def _feet_taking_part(
    flight: CoarseFlight, *, kind: EventKind, scene: _PlanScene
) -> list[Foot]:
    """Feet that stand just outside the flight: low above their own floor, or leaving near it."""
    row = flight.first_row if kind == "take_off" else flight.last_row
    away = -1 if kind == "take_off" else 1
    since_s = away * (scene.time_s - scene.time_s[row])
    near = (since_s > 0.005) & (since_s < 0.10)
    if not near.any():
        return []
    feet: list[Foot] = []
    for lift, foot in zip(flight.lifts, FEET, strict=True):
        inside = lift.starts_in_clip if kind == "take_off" else lift.ends_in_clip
        edge = lift.first_row if kind == "take_off" else lift.last_row
        edge_s = abs(float(scene.time_s[edge] - scene.time_s[row]))
        low = float(np.median(scene.heights.of(foot)[near]))
        near_edge = inside and edge_s < NEAR_EDGE_S
        if low < scene.settings.low_statures or (near_edge and low < scene.settings.up_statures):
            feet.append(foot)
    return feet


def _plan_one(
    scene: _PlanScene, *, kind: EventKind, foot: Foot, coarse_s: float, flight: int | None,
    speed_mps: float,
) -> Iterator[EventPlan]:  # fmt: skip
    """Give the plan of one event; nothing where the clip or the picture cuts it off."""
    times, settings = scene.paths.frame_time_s, scene.settings
    interval_s = float(np.median(np.diff(times[scene.distinct])))
    reach_s = max(settings.reach_s, 3.2 * interval_s)
    until_s = reach_s + (settings.longest_push_s if kind == "take_off" else 0.0)
    looked_at = (times >= coarse_s - reach_s - 1e-9) & (times <= coarse_s + until_s + 1e-9)
    frames = np.flatnonzero(looked_at & scene.distinct)
    cut_off = times[0] > coarse_s - 0.6 * reach_s or times[-1] < coarse_s + 0.6 * reach_s
    if frames.size < 5 or cut_off:
        return
    margin_s = interval_s + settings.slow_rate_margin_s
    planted_s = (
        coarse_s - max(settings.planted_before_s, margin_s)
        if kind == "take_off"
        else coarse_s + max(settings.planted_after_s, 1.5 * interval_s + settings.settled_s)
    )
    reference = int(frames[np.argmin(np.abs(times[frames] - planted_s))])
    box = _box_about(
        scene.paths, foot=foot, frame=reference, picture_px=scene.picture_px, settings=settings
    )
    if box is None:
        return
    near = np.flatnonzero(np.abs(times - coarse_s) <= settings.empty_reach_s)
    chosen = near[np.linspace(0, near.size - 1, min(near.size, 90)).astype(int)]
    yield EventPlan(kind, foot, flight, coarse_s, speed_mps, frames, reference, chosen, box)


def _box_about(
    paths: FootPaths, *, foot: Foot, frame: int, picture_px: tuple[int, int],
    settings: PlanSettings,
) -> tuple[int, int, int, int] | None:  # fmt: skip
    """Pixels about the standing toe; None where the foot stands outside the picture."""
    toe = paths.px[frame, FOOT_LANDMARKS[foot].toe]
    width, height = picture_px
    if not (0 <= toe[0] < width and 0 <= toe[1] < height):
        return None
    unit = paths.px_per_m
    left, right = max(0, toe[0] - settings.side_m * unit), toe[0] + settings.side_m * unit
    top, bottom = max(0, toe[1] - settings.above_m * unit), toe[1] + settings.below_m * unit
    return int(left), int(top), int(min(width, right)), int(min(height, bottom))
