"""What a believable fit of one event looks like, and how far it may be off all the same."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from measure.contacts.event import LANDING, EventFit
from measure.contacts.plan import EventPlan
from measure.contacts.trace import Trace

__all__ = ["Bending", "JudgeSettings", "is_believable", "sigma_of"]


@dataclass(frozen=True, slots=True)
class Bending:
    """How patches that hold more and less of a foot tell when its tip leaves."""

    unseen_s: float
    """Doubt of what bends from one picture to the next: both feet stand in the same pictures."""
    unbent_s: float
    """They go so much apart by chance."""
    later_share: float
    """Of what they go apart beyond that, how much later than the smallest the tip goes."""


@dataclass(frozen=True, slots=True)
class JudgeSettings:
    """What a believable fit looks like, and the doubt that no fit can see in itself."""

    worst_residual_m: float = 0.005
    worst_turn_rad: float = math.radians(60)
    """No foot is pitched farther as it leaves or lands."""
    worst_sinking_m: float = 0.025
    usual_sinking_m: float = 0.010
    """A standing foot that seems to sink by more was not followed well: doubt as of a misfit."""
    usual_jolt_m: float = 0.050
    """Nor was a free one whose way changes by more from picture to picture, as toes that whip never
    do: a patch that lost its shoe."""
    take_off_speed_shares: tuple[float, float] = (0.6, 1.7)
    """Of the body's speed. Toes that seem slower slid in the shoe and go early, or follow a heel
    that is down already and land late."""
    landing_speed_shares: tuple[float, float] = (0.66, 1.6)
    step_speed_shares: tuple[float, float] = (0.3, 1.7)
    stray_s: float = 0.050
    """Farther than this from the pose's coarse time (and a quarter picture) is another event."""
    left_before_s: float = 0.020
    """So long before the coarse take-off a foot leaves: poses see it go once it is well clear."""
    landing_doubt_s: float = 0.0003
    """Which point of a sole meets the ground first shows to a millimetre at best."""
    take_off_bend_per_s: float = 5.25
    """Doubt that grows with the square of the time between pictures: what bends within one
    interval is not seen."""
    front_rise_per_s: float = 5.0
    front_rise_s: float = 0.004
    """More of it where a foot points at the camera, and doubt at any rate: a heel that rises and
    toes that leave both go up in the picture."""
    landing_bend_per_s: float = 1.25
    known_speed_share: float = 0.1
    """The foot's speed is the body's to within this share of it."""
    landing_slow_s: float = 0.05
    """Doubt per unit by which a foot lands more slowly than that; faster ones land alike."""
    unbraked_share: float = 0.8
    """Toes that come down more slowly than this share of the body's speed just before they stop
    roll down: the heel, which a foot that points at the camera hides, stands already."""
    braked_s: float = 0.4
    """Doubt per unit below that: all but disbelief, since the heel was some 30 ms earlier."""
    brakes_within_s: float = 0.025
    """Pictures farther apart than this do not show it."""
    usual_turn_rad: float = math.radians(15)
    """So far toes have rolled forward when they leave, seen from the side. A patch that has
    turned less was left behind, or stayed down with toes that bend: it goes early."""
    unturned_share: float = 0.5
    """Of the time between pictures: doubt of a patch that has not turned at all."""
    most_turn_rad: float = math.radians(20)
    """A foot that has rolled farther when it leaves has most likely bent at the toes."""
    rolled_s: float = 0.1
    """Doubt per radian beyond that ..."""
    rolled_at_most_s: float = 0.008
    """... up to this: toes that roll still farther are no worse timed."""
    clear_grey: float = 50.0
    """Toes that differ less from the ground, of 255, get lost among what moves above them."""
    faint_s: float = 0.005
    """Doubt of toes that differ by half as much."""
    unbent_s: float = 0.003
    unbent_per_s: float = 14.0
    """Patches that hold least and most of a foot go so much apart by chance, and by so much times
    the square of the time between pictures in slow films."""
    most_bend_s: float = 0.015
    """A patch that goes earlier than this before the smallest follows something else."""
    tip_later_share: float = 0.45
    """Of what they go apart beyond chance, how much later than the smallest patch the tip goes: the
    smallest reaches 5 cm behind it and the largest 16, and 5 / (16 - 5) is drawn on to none."""
    front_unbent_s: float = 0.002
    front_unbent_per_s: float = 5.0
    front_later_share: float = 1.2
    """The same of feet that point at the camera: the higher a patch reaches, 6 to 11 cm, the more
    it holds of what a rising heel lifts, and 6 / (11 - 6) is drawn on to none."""
    early_share: float = 0.2
    """What makes a take-off unsure, toes that bend and slide in the shoe, makes it early more often
    than late: by this share of its doubt ..."""
    early_at_most_s: float = 0.0015
    """... up to this."""
    agree_s: float = 0.005
    agree_at_most_s: float = 0.010
    """Patches so far apart saw one landing, up to the latter where they are unsure themselves."""
    lone_take_off_factor: float = 2.0
    lone_landing_factor: float = 5.0
    """A landing that only one patch saw: nothing speaks against pixels of the other foot. Take-offs
    of a lone patch are doubted by how its toes may bend as well."""
    alone_factor: float = 3.0
    """A take-off or landing of which one patch of one foot is all that was seen."""
    half_seen_factor: float = 2.5
    """A take-off of two feet of which one could not be timed: that one may have left last, and
    what hid it has hidden part of the other."""
    one_jump_s: float = 0.05
    """Feet farther apart than this, as a free foot from the jumping one, do not leave together.
    Those of one jump do, within some 10 ms (common practice, no source)."""
    most_covered_misfit_s: float = 0.008
    """Half of what one shoe that is seen twice tells differently is doubt, up to this: beyond, one
    of the two followed something else."""
    second_look_factor: float = 1.5
    """A foot that could not be followed at first is hard to see: timed worse than its fit says."""
    hidden_landing_s: float = 0.007
    """Of two feet that cover each other the hidden one lands first as often as not. Feet some 10 ms
    apart (common practice, no source) are then missed by 10 / sqrt(2) in the root mean square."""
    fewest_heel_patches: int = 2
    longest_roll_s: float = 0.06
    """A heel that seems to land earlier than this before the toes did not land."""
    step_speed_share_sigma: float = 0.35
    """Steps: the speed is pose's own guess, not the body's fall."""
    refit_residual_m: float = 0.0012
    refit_speed_share_sigma: float = 0.35
    refit_bend_sigma_mps2: float = 12.0


def is_believable(
    fit: EventFit, trace: Trace, plan: EventPlan, *, interval_s: float, settings: JudgeSettings
) -> bool:
    """Tell whether a fit follows the pictures, at a speed and a time that the body allows.

    Parameters
    ----------
    fit : EventFit
        Of this trace.
    trace : Trace
    plan : EventPlan
    interval_s : float
        Time between distinct pictures.
    settings : JudgeSettings

    Returns
    -------
    bool
    """
    share = fit.speed_mps / plan.speed_mps
    low, high = _speed_shares(plan, settings)
    usual_s = plan.coarse_s - (settings.left_before_s if plan.kind == "take_off" else 0.0)
    stray_s = settings.stray_s + 0.25 * interval_s
    return (
        fit.residual_m < settings.worst_residual_m
        and abs(_turn_rad(fit, trace)) < settings.worst_turn_rad
        and fit.below_floor_m < settings.worst_sinking_m
        and low < share < high
        and abs(fit.time_s - usual_s) < stray_s
    )


def _speed_shares(plan: EventPlan, settings: JudgeSettings) -> tuple[float, float]:
    if plan.flight is None:
        return settings.step_speed_shares
    if plan.kind == "take_off":
        return settings.take_off_speed_shares
    return settings.landing_speed_shares


def sigma_of(
    fit: EventFit, trace: Trace, plan: EventPlan, *, interval_s: float, settings: JudgeSettings
) -> float:
    """Width of the likelihood, misfit over speed, and the doubts of the method.

    Parameters
    ----------
    fit : EventFit
        Of this trace.
    trace : Trace
    plan : EventPlan
    interval_s : float
        Time between distinct pictures.
    settings : JudgeSettings

    Returns
    -------
    float
        Seconds. *Too small* where toes bend so far that even the smallest patch holds some of
        what has left already: README says by how much.
    """
    doubts: tuple[float, ...]
    if plan.kind == "take_off":
        doubts = (
            settings.take_off_bend_per_s * interval_s**2,
            *(() if trace.direction else _front_doubts(interval_s, settings)),
            settings.unturned_share * interval_s * _unturned(fit, trace, settings),
            _rolled_s(fit, trace, settings),
            settings.faint_s * max(settings.clear_grey / max(trace.contrast_grey, 1.0) - 1.0, 0.0),
        )
    else:
        doubts = (
            settings.landing_doubt_s,
            settings.landing_bend_per_s * interval_s**2,
            settings.landing_slow_s * _slower(fit, plan, settings),
            settings.braked_s * _braked(fit, trace, plan, interval_s, settings),
        )
    sinking_m = max(fit.below_floor_m - settings.usual_sinking_m, 0.0)
    jumping_m = 0.0 if plan.flight is None else max(fit.jolt_m - settings.usual_jolt_m, 0.0)
    ways_m = (fit.residual_m, sinking_m, jumping_m)
    misfits_s = [way_m / max(fit.speed_mps, 0.8) for way_m in ways_m]
    return math.hypot(fit.sigma_s, *misfits_s, *doubts)


def doubt_if_hidden(sigma_s: float, settings: JudgeSettings) -> float:
    """Sigma of a landing that may be that of the other foot, which was hidden; in seconds."""
    return math.hypot(sigma_s, settings.hidden_landing_s)


def _front_doubts(interval_s: float, settings: JudgeSettings) -> tuple[float, float]:
    return settings.front_rise_per_s * interval_s**2, settings.front_rise_s


def _slower(fit: EventFit, plan: EventPlan, settings: JudgeSettings) -> float:
    """By what share of the expected speed a foot lands more slowly than one may."""
    known = settings.step_speed_share_sigma if plan.flight is None else settings.known_speed_share
    return max(LANDING.speed_share - fit.speed_mps / plan.speed_mps - known, 0.0)


def _braked(
    fit: EventFit, trace: Trace, plan: EventPlan, interval_s: float, settings: JudgeSettings
) -> float:
    """By what share of the body's speed toes came down too slowly at the last."""
    is_told = interval_s < settings.brakes_within_s and not math.isnan(fit.near_speed_mps)
    if plan.flight is None or trace.end == "heel" or not is_told:
        return 0.0
    return max(settings.unbraked_share - fit.near_speed_mps / plan.speed_mps, 0.0)


def _unturned(fit: EventFit, trace: Trace, settings: JudgeSettings) -> float:
    """How much of the usual roll a toe lacks at its take-off, 0 to 1; 0 where that is not seen."""
    if not trace.direction:
        return 0.0
    return min(max(1.0 - _turn_rad(fit, trace) / settings.usual_turn_rad, 0.0), 1.0)


def _rolled_s(fit: EventFit, trace: Trace, settings: JudgeSettings) -> float:
    beyond_rad = max(_turn_rad(fit, trace) - settings.most_turn_rad, 0.0)
    return min(settings.rolled_s * beyond_rad, settings.rolled_at_most_s)


def _turn_rad(fit: EventFit, trace: Trace) -> float:
    """How far a patch seen from the side has rolled forward at its event, 0 in other views."""
    turn_rad = np.interp(fit.time_s, trace.path.time_s, trace.path.turn_rad)
    return trace.direction * float(turn_rad)
