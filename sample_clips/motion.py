"""A whole motion: any number of joints at any time, from keyed angles, contacts and a mass path."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import Floats, Keyed, MassPath, constant, smooth_step
from sample_clips.feet import Contact, Foot, Swing, swing_foot
from sample_clips.skeleton import (
    SIDES,
    Frame,
    Joints,
    Posture,
    bend_leg,
    flexion_deg,
    frame_of,
    place_pelvis,
    upper_body,
)

TOUCH_SPEED_MPS = 0.7
TO_GROUND_S = 0.35


FootPlan = Callable[[Floats], Foot]


def assemble(
    body: Body,
    posture: Posture,
    *,
    plans: Mapping[str, FootPlan],
    mass_m: Floats,
    knees_in: Floats,
) -> Joints:
    """Put the body on its feet so that the centre of mass is where it has to be.

    Parameters
    ----------
    plans : mapping of side to callable
        Gives a foot for places of the pelvis, (T, 3).
    mass_m : ndarray of shape (T, 3)
    knees_in : ndarray of shape (T,)
        Turn of both knees inward, rad.
    """
    above = upper_body(body, posture)
    zero = np.zeros_like(posture.yaw_rad)
    level = frame_of(posture.yaw_rad, zero, zero)
    turn = knees_in[:, None]

    def build(pelvis: Floats) -> Joints:
        joints = {name: pelvis + place for name, place in above.items()}
        for side, sign in SIDES.items():
            foot = plans[side](pelvis)
            points = foot.points_m(body)
            joints |= {f"{side}_{name}": place for name, place in points.items()}
            along = np.stack([np.sin(foot.yaw_rad), zero, np.cos(foot.yaw_rad)], -1)
            pole = np.cos(turn) * (level.front + along) / 2 - np.sin(turn) * sign * level.left
            joints[f"{side}_knee"], joints[f"{side}_stretch"] = bend_leg(
                joints[f"{side}_hip"], points["ankle"], body=body, ahead=pole
            )
        return joints

    return place_pelvis(build, mass_m, body=body)


NONE = constant(0.0)
ARMS_ASIDE = constant(0.14)


@dataclass(frozen=True)
class Angles:
    """Keyed courses of everything that is given; rad."""

    lean: Keyed
    shoulder: Keyed
    elbow: Keyed
    yaw: Keyed = NONE
    roll: Keyed = NONE
    head: Keyed = NONE
    spread: Keyed = ARMS_ASIDE
    knees_in: Keyed = NONE
    """How far the knees are turned inward from the line of the feet."""
    inward: float = 0.15
    arms_apart: float = 0.0
    """How much later or higher one arm goes than the other, rad."""

    def posture(self, time_s: Floats) -> Posture:
        """Posture at the times."""
        shoulder, elbow, spread = self.shoulder(time_s), self.elbow(time_s), self.spread(time_s)
        apart = {"left": self.arms_apart / 2, "right": -self.arms_apart / 2}
        return Posture(
            self.yaw(time_s),
            self.lean(time_s),
            self.roll(time_s),
            self.head(time_s),
            {side: shoulder + apart[side] for side in SIDES},
            dict.fromkeys(SIDES, spread),
            {side: elbow + 0.5 * apart[side] for side in SIDES},
            self.inward,
        )


@dataclass(frozen=True)
class HeldLeg:
    """A leg that is held up, by angles relative to the pelvis, until it may come down."""

    hip: Keyed
    knee: Keyed
    foot_rad: float = 0.5
    touch: Contact | None = None


@dataclass(frozen=True)
class Leg:
    """What one leg does: contacts with swings in between, or held up."""

    contacts: tuple[Contact, ...] = ()
    swings: tuple[Swing, ...] = ()
    held: HeldLeg | None = None


@dataclass(frozen=True)
class Motion:
    """One athlete doing one exercise; flights are (take-off, landing) of both feet."""

    body: Body
    angles: Angles
    path: MassPath
    legs: Mapping[str, Leg]
    flights_s: tuple[tuple[float, float], ...]
    end_s: float
    notes: Mapping[str, float] = field(default_factory=dict)

    def joints(self, time_s: Floats) -> Joints:
        """Joint centres, points of the feet and ``left_stretch``, ``right_stretch``."""
        plans = {side: self._leg_plan(side, time_s) for side in SIDES}
        return assemble(
            self.body,
            self.angles.posture(time_s),
            plans=plans,
            mass_m=self.path.place_m(time_s),
            knees_in=self.angles.knees_in(time_s),
        )

    def _leg_plan(self, side: str, time_s: Floats) -> Callable[[Floats], Foot]:
        leg = self.legs[side]
        if leg.held is not None:
            held = leg.held
            return lambda pelvis: held_foot(
                held, side, time_s, pelvis, body=self.body, angles=self.angles
            )
        foot = self.feet_on_plan(side, time_s)
        return lambda pelvis: foot

    def feet_on_plan(self, side: str, time_s: Floats) -> Foot:
        """Where a foot with planned contacts is."""
        leg = self.legs[side]
        parts = [np.empty((time_s.size, 3)), *(np.empty(time_s.size) for _ in range(3))]
        for number, contact in enumerate(leg.contacts):
            on = (time_s >= contact.start_s) & (time_s <= contact.end_s)
            if on.any():
                _put(parts, on, contact.place(time_s[on], self.body))
            if number + 1 == len(leg.contacts):
                continue
            land = leg.contacts[number + 1]
            off = (time_s > contact.end_s) & (time_s < land.start_s)
            if off.any():
                foot = swing_foot(
                    time_s[off], leave=contact, land=land, swing=leg.swings[number],
                    path=self.path, body=self.body,
                )  # fmt: skip
                _put(parts, off, foot)
        return Foot(*parts)

    def contacts(self, side: str) -> tuple[Contact, ...]:
        """Every contact of one foot."""
        leg = self.legs[side]
        if leg.held is not None:
            return () if leg.held.touch is None else (leg.held.touch,)
        return leg.contacts

    def lowest_m(self, time_s: Floats) -> dict[str, Floats]:
        """Height of each foot's lowest point above the ground under the clip, (T,) each."""
        joints = self.joints(time_s)
        return {
            side: np.min([joints[f"{side}_{p}"][:, 1] for p in ("tip", "ball", "heel_edge")], 0)
            for side in SIDES
        }

    def knee_deg(self, joints: Joints, side: str) -> Floats:
        """Knee flexion, degrees."""
        return flexion_deg(
            joints[f"{side}_hip"], joints[f"{side}_knee"], joints[f"{side}_ankle"]
        )


def held_foot(
    held: HeldLeg, side: str, time_s: Floats, pelvis: Floats, *, body: Body, angles: Angles
) -> Foot:
    """Place the foot of a leg that is held up, going over to its touch where there is one."""
    posture = angles.posture(time_s)
    zero = np.zeros_like(time_s)
    hip = pelvis + upper_body(body, posture)[f"{side}_hip"]
    axes = frame_of(posture.yaw_rad, zero, zero)
    thigh, shank = held.hip(time_s), held.hip(time_s) - held.knee(time_s)
    ankle = hip + body.thigh_m * _hanging(axes, thigh) + body.shank_m * _hanging(axes, shank)
    free = _foot_from_ankle(ankle, posture.yaw_rad, held.foot_rad - shank / 2, body)
    touch = held.touch
    if touch is None:
        return free
    before = np.clip(touch.start_s - time_s, 0, None)
    down = touch.place(np.maximum(time_s, touch.start_s), body)
    weight = smooth_step(1 - (before - 0.04) / TO_GROUND_S)
    tip = down.tip_m + np.array([0.0, TOUCH_SPEED_MPS, 0.0]) * before[:, None]
    w = weight[:, None]
    return Foot(
        w * tip + (1 - w) * free.tip_m,
        weight * down.yaw_rad + (1 - weight) * free.yaw_rad,
        weight * down.rear_rad + (1 - weight) * free.rear_rad,
        weight * down.toes_rad + (1 - weight) * free.toes_rad,
    )


def _hanging(axes: Frame, angle_rad: Floats) -> Floats:
    return -np.cos(angle_rad)[:, None] * axes.up + np.sin(angle_rad)[:, None] * axes.front


def _foot_from_ankle(ankle: Floats, yaw: Floats, rear: Floats, body: Body) -> Foot:
    """The foot whose ankle is there, with straight toes."""
    foot = Foot(0 * ankle, yaw, rear, rear - 0.05)
    return Foot(ankle - foot.points_m(body)["ankle"], yaw, rear, rear - 0.05)


def _put(parts: list[Floats], where: Floats, foot: Foot) -> None:
    for part, values in zip(
        parts, (foot.tip_m, foot.yaw_rad, foot.rear_rad, foot.toes_rad), strict=True
    ):
        part[where] = values


