"""Countermovement jumps from two feet, straight or with a turn."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import GRAVITY_MPS2, Knot, still
from sample_clips.exercises.stages import (
    Arms,
    CannotMove,
    Stage,
    foot_at,
    join_stages,
    knot,
    make_path,
    mass_level_m,
    still_angles,
    sway,
    take_off_knot,
)
from sample_clips.feet import NEVER_S, Contact, Foot, Leaving, Meeting, Swing
from sample_clips.motion import Leg, Motion
from sample_clips.skeleton import SIDES

FULL_ARMS = Arms()
FOREFOOT = Meeting(rear_rad=0.45, toes_rad=0.1)
ROLL = Leaving()
STRAIGHT = Swing()


@dataclass(frozen=True)
class JumpStyle:
    """How one athlete does one countermovement jump."""

    rise_m: float = 0.30
    """Height by the speed at take-off, v^2 / 2g."""
    wait_s: float = 0.9
    sink_s: float = 0.5
    sink_m: float = 0.25
    landing_sink_m: float = 0.18
    knee_take_off_deg: float = 16.0
    knee_landing_deg: float = 22.0
    drift_mps: float = 0.05
    stance_m: float = 0.12
    """Half the distance between the feet."""
    toes_out_rad: float = 0.15
    knees_in_rad: float = 0.0
    lean_bottom: float = 0.65
    lean_contact: float = 0.24
    lean_landing: float = 0.45
    arms: Arms = FULL_ARMS
    meeting: Meeting = FOREFOOT
    leaving: Leaving = ROLL
    swing: Swing = STRAIGHT
    approach_mps: float = 0.0
    lead_s: float = 0.0
    """How much earlier the left foot leaves."""
    lag_s: float = 0.0
    """How much later the left foot lands."""
    hold_s: float = 0.15
    rise_again_s: float = 0.8
    stand_s: float = 1.0
    stagger_m: float = 0.0
    """How far the left foot stands ahead."""
    turn_rad: float = 0.0
    seed: int = 0


def _stages(style: JumpStyle) -> list[Stage]:
    """Stand, bottom, take-off, top, landing, bottom, stand."""
    stand = Stage(lean=0.04, shoulder=0.02, elbow=0.25)
    return [
        stand,
        Stage(lean=style.lean_bottom, shoulder=-0.8, elbow=0.3, head=0.25),
        Stage(lean=0.12, shoulder=2.4, elbow=0.4, head=-0.1),
        Stage(lean=0.10, shoulder=2.0, elbow=0.6, head=0.1),
        Stage(lean=style.lean_contact, shoulder=1.25, elbow=0.7, head=0.2, spread=0.3),
        Stage(lean=style.lean_landing, shoulder=0.5, elbow=0.6, head=0.25, spread=0.35,
              knees_in=style.knees_in_rad),
        stand,
    ]  # fmt: skip


def jump_vertically(body: Body, style: JumpStyle) -> Motion:
    """Build the motion.

    Raises
    ------
    CannotMove
        No body could do that.
    """
    stages = _stages(style)
    start = _feet(body, style, 0.0)
    mid_foot = 0.45 * body.foot_m
    levels = _ground_levels(body, style, stages, start, back_m=mid_foot)
    speed = math.sqrt(2 * GRAVITY_MPS2 * style.rise_m)
    down_s, up_s = style.sink_s, (levels["take_off"] - levels["bottom"]) / (0.54 * speed)
    leave_s = style.wait_s + down_s + up_s
    ahead = -0.30 * body.foot_m
    take_off = take_off_knot(
        leave_s, (0, levels["take_off"], ahead), (0, speed, style.drift_mps)
    )
    airborne_s = _fall_s(speed, levels["take_off"] - levels["landing"])
    landing = take_off.fly(airborne_s)
    forward = landing.place_m[2] - ahead + 0.10 * body.foot_m
    times, knots = _ground_after(style, landing, levels, forward - mid_foot)
    rng = np.random.default_rng(style.seed)
    stand = np.array([0, levels["stand"], -mid_foot])
    before = sway(rng, centre=stand, start_s=-0.4, end_s=style.wait_s - 0.25)
    bottom = knot(style.wait_s + down_s, (0, levels["bottom"], -mid_foot + 0.02), (0, 0, 0.05),
                  speed / up_s * 1.25)  # fmt: skip
    path = make_path([*before, still(style.wait_s, stand), bottom, take_off, landing, *knots])
    moments = [style.wait_s, style.wait_s + down_s, leave_s, leave_s + airborne_s / 2, *times]
    angles = join_stages(moments, _turned(stages, style.turn_rad), arms=style.arms)
    legs = _legs(body, style, start, leave_s=leave_s, land_s=landing.time_s, forward=forward)
    end_s = knots[-1].time_s + style.stand_s
    return Motion(body, angles, path, legs, ((leave_s, landing.time_s),), end_s)


def _turned(stages: list[Stage], turn_rad: float) -> list[Stage]:
    shares = (0, 0, 0, 0.5, 1, 1, 1)
    return [replace(s, yaw=turn_rad * y) for s, y in zip(stages, shares, strict=True)]


def _fall_s(speed_mps: float, drop_m: float) -> float:
    """Time from take-off until the centre of mass is ``drop_m`` lower."""
    return (speed_mps + math.sqrt(speed_mps**2 + 2 * GRAVITY_MPS2 * drop_m)) / GRAVITY_MPS2


def _feet(body: Body, style: JumpStyle, forward: float) -> dict[str, Contact]:
    return {
        side: Contact(
            -NEVER_S,
            NEVER_S,
            np.array([sign * style.stance_m, 0.0, forward + max(sign, 0) * style.stagger_m]),
            yaw_rad=sign * style.toes_out_rad,
            meeting=style.meeting,
            leaving=style.leaving,
        )
        for side, sign in SIDES.items()
    }


def _ground_levels(
    body: Body, style: JumpStyle, stages: list[Stage], feet: dict[str, Contact], *, back_m: float
) -> dict[str, float]:
    stand, _, leaving, _, landing, _, _ = stages
    flat = {side: foot_at(replace(c, start_s=-NEVER_S), 0.0, body) for side, c in feet.items()}
    gone = {side: foot_at(replace(c, end_s=0.0), 0.0, body) for side, c in feet.items()}
    met = {side: foot_at(replace(c, start_s=0.0), 0.0, body) for side, c in feet.items()}

    def level(stage: Stage, where: dict[str, Foot], z: float, knee_deg: float) -> float:
        angles = still_angles(stage, style.arms)
        return mass_level_m(body, angles, feet=where, mass_xz_m=(0.0, z), knee_deg=knee_deg)

    stand_m = level(stand, flat, -back_m, 5.0)
    return {
        "stand": stand_m,
        "bottom": stand_m - style.sink_m,
        "take_off": level(leaving, gone, -0.30 * body.foot_m, style.knee_take_off_deg),
        "landing": level(landing, met, -0.40 * body.foot_m, style.knee_landing_deg),
    }


def _ground_after(
    style: JumpStyle, landing: Knot, levels: dict[str, float], middle_z: float
) -> tuple[list[float], list[Knot]]:
    """Times of the landing's stages and the knots after it."""
    speed = -landing.velocity_mps[1]
    low = levels["landing"] - style.landing_sink_m
    brake_s = style.landing_sink_m / (0.44 * speed)
    if brake_s < 0.05:
        raise CannotMove("landing too stiff")
    x = landing.place_m[0]
    deepest_s = landing.time_s + brake_s
    held_s = deepest_s + style.hold_s
    up_s = held_s + style.rise_again_s
    bottom = knot(deepest_s, (x, low, middle_z - 0.02), (0, 0, 0.0), speed / brake_s * 0.9)
    held = knot(held_s, (x, low + 0.25 * style.landing_sink_m * min(style.hold_s / 0.3, 1),
                         middle_z), (0, 0.05, 0), 0.0)  # fmt: skip
    top = still(up_s, (x, levels["stand"], middle_z))
    return [landing.time_s, deepest_s, up_s], [bottom, held, top]


def _legs(
    body: Body,
    style: JumpStyle,
    start: dict[str, Contact],
    *,
    leave_s: float,
    land_s: float,
    forward: float,
) -> dict[str, Leg]:
    turn = np.array(
        [[math.cos(style.turn_rad), 0, math.sin(style.turn_rad)], [0, 1, 0],
         [-math.sin(style.turn_rad), 0, math.cos(style.turn_rad)]]
    )  # fmt: skip
    pivot = np.array([0, 0, -0.45 * body.foot_m])
    legs = {}
    for side, contact in start.items():
        left = side == "left"
        first = replace(contact, end_s=leave_s - (style.lead_s if left else 0.0))
        tip = turn @ (contact.tip_m - pivot) + pivot + np.array([0, 0, forward])
        second = replace(
            contact,
            start_s=land_s + (style.lag_s if left else 0.0),
            tip_m=tip,
            yaw_rad=contact.yaw_rad + style.turn_rad,
            approach_mps=style.approach_mps,
        )
        legs[side] = Leg((first, second), (style.swing,))
    return legs
