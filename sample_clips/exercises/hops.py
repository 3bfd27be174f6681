"""Off a low box, then several quick hops from both feet, land and hold."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import GRAVITY_MPS2, Knot, still
from sample_clips.exercises.stages import (
    Arms,
    Stage,
    foot_at,
    join_stages,
    knot,
    make_path,
    mass_level_m,
    still_angles,
    take_off_knot,
)
from sample_clips.feet import NEVER_S, Contact, Foot, Leaving, Meeting, Swing
from sample_clips.motion import Angles, Leg, Motion
from sample_clips.skeleton import SIDES

HALF_ARMS = Arms(size=0.6)
QUICK_MEETING = Meeting(rear_rad=0.4, toes_rad=0.05, rear_s=0.06, toes_s=0.015)
QUICK_LEAVING = Leaving(rear_s=0.11, toes_s=0.03)
LOW_SWING = Swing(lift_m=0.06)


@dataclass(frozen=True)
class HopStyle:
    """How one athlete hops."""

    rises_m: tuple[float, ...] = (0.18, 0.2, 0.19)
    contacts_s: tuple[float, ...] = (0.22, 0.2, 0.21)
    box_m: float = 0.25
    wait_s: float = 0.6
    forward_mps: float = 0.9
    knee_take_off_deg: float = 18.0
    knee_landing_deg: float = 28.0
    stance_m: float = 0.11
    toes_out_rad: float = 0.12
    lean: float = 0.14
    heel_up_rad: float = 0.12
    """Rear pitch in the middle of a hop's contact; 0 when the heel comes down."""
    arms: Arms = HALF_ARMS
    meeting: Meeting = QUICK_MEETING
    leaving: Leaving = QUICK_LEAVING
    swing: Swing = LOW_SWING
    landing_sink_m: float = 0.2
    hold_s: float = 0.3
    stand_s: float = 0.9
    lag_s: float = 0.0
    seed: int = 0


def hop_off_a_box(body: Body, style: HopStyle) -> Motion:
    """Build the motion.

    Raises
    ------
    CannotMove
        No body could do that.
    """
    levels = _levels(body, style)
    off_s = style.wait_s + 0.55
    leave_box = take_off_knot(
        off_s,
        (0.0, style.box_m + levels["box"], 0.12 * body.foot_m),
        (0.0, -0.35, style.forward_mps),
    )
    knots, flights, landings = [leave_box], [], []
    at = leave_box.fly(_fall_s(-0.35, style.box_m + levels["box"] - levels["land"]))
    for rise_m, contact_s in zip(style.rises_m, style.contacts_s, strict=True):
        landings.append(at)
        ahead = at.velocity_mps[2]
        speed = math.sqrt(2 * GRAVITY_MPS2 * rise_m)
        go = take_off_knot(
            at.time_s + contact_s,
            (0.0, levels["leave"], at.place_m[2] + ahead * contact_s * 0.92),
            (0.0, speed, ahead),
        )
        knots += [at, go]
        at = go.fly(_fall_s(speed, levels["leave"] - levels["land"]))
        flights.append((go.time_s, at.time_s))
    landings.append(at)
    knots += [at, *_after(style, at, levels)]
    start = np.array([0.0, style.box_m + levels["stand"], -0.45 * body.foot_m])
    path = make_path([still(style.wait_s, start), *knots])
    contacts = _contacts(body, style, off_s, flights, landings)
    angles = _angles(style, off_s, flights, landings, knots)
    swings = (replace(style.swing, lift_m=0.10), *(style.swing for _ in flights))
    legs = {side: Leg(contacts[side], swings) for side in SIDES}
    end_s = knots[-1].time_s + style.stand_s
    return Motion(body, angles, path, legs, tuple(flights), end_s, {"box_m": style.box_m})


def _fall_s(speed_mps: float, drop_m: float) -> float:
    return (speed_mps + math.sqrt(speed_mps**2 + 2 * GRAVITY_MPS2 * drop_m)) / GRAVITY_MPS2


def _flat(body: Body, style: HopStyle, ground_m: float, tip_z: float) -> dict[str, Contact]:
    return {
        side: Contact(
            -NEVER_S, NEVER_S, np.array([sign * style.stance_m, ground_m, tip_z]),
            yaw_rad=sign * style.toes_out_rad, meeting=style.meeting, leaving=style.leaving,
        )
        for side, sign in SIDES.items()
    }  # fmt: skip


def _levels(body: Body, style: HopStyle) -> dict[str, float]:
    feet = _flat(body, style, 0.0, 0.0)
    flat = {s: foot_at(c, 0.0, body) for s, c in feet.items()}
    gone = {s: foot_at(replace(c, end_s=0.0), 0.0, body) for s, c in feet.items()}
    met = {s: foot_at(replace(c, start_s=0.0), 0.0, body) for s, c in feet.items()}
    stages = _stages(style)

    def level(stage: Stage, where: dict[str, Foot], z: float, knee_deg: float) -> float:
        angles = still_angles(stage, style.arms)
        return mass_level_m(
            body, angles, feet=where, mass_xz_m=(0.0, z * body.foot_m), knee_deg=knee_deg
        )

    right = {"right": gone["right"]}
    return {
        "stand": level(stages["stand"], flat, -0.45, 14.0),
        "box": level(stages["step"], right, 0.12, 42.0),
        "land": level(stages["land"], met, -0.35, style.knee_landing_deg),
        "leave": level(stages["leave"], gone, -0.25, style.knee_take_off_deg),
    }


def _stages(style: HopStyle) -> dict[str, Stage]:
    return {
        "stand": Stage(lean=0.04, shoulder=0.05, elbow=0.3),
        "step": Stage(lean=0.10, shoulder=0.3, elbow=0.6),
        "land": Stage(lean=style.lean, shoulder=0.0, elbow=0.7, spread=0.25, head=0.1),
        "low": Stage(lean=style.lean + 0.08, shoulder=-0.4, elbow=0.7, head=0.15),
        "leave": Stage(lean=style.lean - 0.04, shoulder=1.4, elbow=0.9),
        "top": Stage(lean=style.lean, shoulder=0.9, elbow=0.9),
        "deep": Stage(lean=style.lean + 0.35, shoulder=0.7, elbow=0.6, spread=0.3, head=0.2),
    }


def _angles(
    style: HopStyle, off_s: float, flights: list[tuple[float, float]], landings: list[Knot],
    knots: list[Knot],
) -> Angles:  # fmt: skip
    stage = _stages(style)
    times, row = [style.wait_s, off_s], [stage["stand"], stage["step"]]
    for landing, (leave_s, land_s) in zip(landings, flights, strict=False):
        times += [landing.time_s, (landing.time_s + leave_s) / 2, leave_s, (leave_s + land_s) / 2]
        row += [stage["land"], stage["low"], stage["leave"], stage["top"]]
    times += [landings[-1].time_s, knots[-3].time_s, knots[-1].time_s]
    row += [stage["land"], stage["deep"], stage["stand"]]
    return join_stages(times, row, arms=style.arms)


def _after(style: HopStyle, landing: Knot, levels: dict[str, float]) -> list[Knot]:
    speed, ahead = -landing.velocity_mps[1], landing.velocity_mps[2]
    low = levels["land"] - style.landing_sink_m
    brake_s = style.landing_sink_m / (0.44 * speed)
    z = landing.place_m[2] + ahead * brake_s * 0.5
    deepest = landing.time_s + brake_s
    held = deepest + style.hold_s
    return [
        knot(deepest, (0, low, z), (0, 0, 0.1 * ahead), speed / brake_s * 0.9),
        knot(held, (0, low + 0.2 * style.landing_sink_m * min(style.hold_s / 0.3, 1), z + 0.02),
             (0, 0.05, 0), 0.0),
        still(held + 0.8, (0, levels["stand"], z + 0.02)),
    ]  # fmt: skip


def _contacts(
    body: Body, style: HopStyle, off_s: float, flights: list[tuple[float, float]],
    landings: list[Knot],
) -> dict[str, tuple[Contact, ...]]:  # fmt: skip
    box = _flat(body, style, style.box_m, 0.0)
    slow = replace(style.leaving, rear_s=0.2)
    box["left"] = replace(box["left"], end_s=off_s - 0.42, leaving=slow)
    box["right"] = replace(box["right"], end_s=off_s, leaving=replace(style.leaving, rear_s=0.42))
    contacts = {}
    for side in SIDES:
        row = [box[side]]
        for number, landing in enumerate(landings):
            last = number == len(landings) - 1
            # The feet land under where the body will be halfway through the contact.
            stay = 0.30 if last else style.contacts_s[number]
            tip_z = landing.place_m[2] + landing.velocity_mps[2] * stay * 0.48 + 0.40 * body.foot_m
            flat = _flat(body, style, 0.0, tip_z)[side]
            late = style.lag_s if side == "left" else 0.0
            row.append(
                replace(
                    flat, start_s=landing.time_s + late,
                    end_s=NEVER_S if last else flights[number][0],
                    middle_rad=0.0 if last else style.heel_up_rad,
                )
            )  # fmt: skip
        contacts[side] = tuple(row)
    return contacts
