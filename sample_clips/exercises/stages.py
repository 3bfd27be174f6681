"""A motion as a row of stages: what the body is like at each, joined smoothly in time."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import FALL_MPS2, Floats, Keyed, Knot, MassPath, constant
from sample_clips.feet import Contact, Foot
from sample_clips.motion import Angles, FootPlan, HeldLeg, assemble, held_foot
from sample_clips.skeleton import SIDES


class CannotMove(Exception):
    """These numbers don't make a motion that a body could do; draw others."""


@dataclass(frozen=True)
class Stage:
    """Angles at one moment, rad."""

    lean: float = 0.05
    shoulder: float = 0.0
    elbow: float = 0.25
    spread: float = 0.14
    head: float = 0.0
    roll: float = 0.0
    knees_in: float = 0.0
    yaw: float = 0.0


@dataclass(frozen=True)
class Arms:
    """What the arms do in a row of stages: swing, or stay on the hips."""

    on_hips: bool = False
    apart: float = 0.0
    size: float = 1.0

    def put(self, stage: Stage) -> Stage:
        """Exchange the arm angles of a stage where the hands are on the hips."""
        if self.on_hips:
            return replace(stage, shoulder=-0.45, elbow=1.75, spread=0.75)
        return replace(stage, shoulder=stage.shoulder * self.size)


def join_stages(times_s: Sequence[float], stages: Sequence[Stage], *, arms: Arms) -> Angles:
    """Angles through the stages at their times."""
    put = [arms.put(stage) for stage in stages]

    def course(name: str) -> Keyed:
        return Keyed(tuple(times_s), tuple(getattr(stage, name) for stage in put))

    return Angles(
        lean=course("lean"), shoulder=course("shoulder"), elbow=course("elbow"),
        spread=course("spread"), head=course("head"), roll=course("roll"),
        knees_in=course("knees_in"), yaw=course("yaw"),
        inward=1.25 if arms.on_hips else 0.2, arms_apart=0.0 if arms.on_hips else arms.apart,
    )  # fmt: skip


def still_angles(stage: Stage, arms: Arms) -> Angles:
    """Angles that stay at one stage."""
    return join_stages([0.0], [stage], arms=arms)


def mass_level_m(
    body: Body,
    angles: Angles,
    *,
    feet: Mapping[str, Foot],
    mass_xz_m: tuple[float, float],
    knee_deg: float,
) -> float:
    """Height of the centre of mass at which the knees of the standing legs are bent so much.

    Parameters
    ----------
    feet : mapping of side to Foot with one time
        The legs that decide; a leg without a foot here is left hanging.
    """
    count = 240
    levels = np.linspace(0.25, 0.95, count) * body.stature_m
    levels = levels + min(float(foot.tip_m[0, 1]) for foot in feet.values())
    mass = np.stack([np.full(count, mass_xz_m[0]), levels, np.full(count, mass_xz_m[1])], -1)
    plans = {side: _plan(feet.get(side), body, angles, side, count) for side in SIDES}
    zero = np.zeros(count)
    joints = assemble(
        body, angles.posture(zero), plans=plans, mass_m=mass, knees_in=angles.knees_in(zero)
    )
    stretch = np.max([joints[f"{side}_stretch"] for side in feet], axis=0)
    thigh, shank = body.thigh_m, body.shank_m
    wanted = math.sqrt(
        thigh**2 + shank**2 + 2 * thigh * shank * math.cos(math.radians(knee_deg))
    ) / (thigh + shank)  # fmt: skip
    usable = (stretch > 0.3) & (stretch < 1.1)
    if usable.sum() < 3 or not stretch[usable].min() <= wanted <= stretch[usable].max():
        raise CannotMove(f"no level bends the knees by {knee_deg:.0f} degrees")
    order = np.argsort(stretch[usable])
    return float(np.interp(wanted, stretch[usable][order], levels[usable][order]))


def _plan(foot: Foot | None, body: Body, angles: Angles, side: str, count: int) -> FootPlan:
    if foot is not None:
        many = Foot(
            np.repeat(foot.tip_m, count, 0), *(np.repeat(v, count) for v in
            (foot.yaw_rad, foot.rear_rad, foot.toes_rad)),
        )  # fmt: skip
        return lambda pelvis: many
    held = HeldLeg(constant(0.8), constant(1.4))
    return lambda pelvis: held_foot(held, side, np.zeros(count), pelvis, body=body, angles=angles)


def foot_at(contact: Contact, time_s: float, body: Body) -> Foot:
    """The foot of a contact at one time."""
    return contact.place(np.array([time_s]), body)


def knot(time_s: float, place_m: Sequence[float], velocity_mps: Sequence[float],
         upward_mps2: float) -> Knot:  # fmt: skip
    """A knot whose acceleration is upward."""
    return Knot(
        time_s, np.asarray(place_m, float), np.asarray(velocity_mps, float),
        np.array([0.0, upward_mps2, 0.0]),
    )  # fmt: skip


def take_off_knot(time_s: float, place_m: Sequence[float], velocity_mps: Sequence[float]) -> Knot:
    """A knot at which the ground no longer pushes."""
    return Knot(
        time_s, np.asarray(place_m, float), np.asarray(velocity_mps, float), FALL_MPS2.copy()
    )


def sway(rng: np.random.Generator, *, centre: Floats, start_s: float, end_s: float) -> list[Knot]:
    """Knots of quiet standing: a few millimetres about the centre, every half second or so."""
    times = np.arange(start_s, end_s, 0.6)
    knots = []
    for time in times:
        shift = rng.normal(0, 0.004, 3) * np.array([1, 0.0, 1])
        knots.append(knot(float(time), centre + shift, (0, 0, 0), 0.0))
    return knots


def make_path(knots: Sequence[Knot]) -> MassPath:
    """Path through knots in order of time.

    Raises
    ------
    CannotMove
        Knots too close in time.
    """
    times = [k.time_s for k in knots]
    if np.min(np.diff(times)) < 0.02:
        raise CannotMove("stages follow too closely")
    return MassPath(knots)
