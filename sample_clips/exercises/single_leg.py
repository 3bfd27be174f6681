"""A jump from one leg onto the same leg, held; or balance is lost and the other foot comes down."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import GRAVITY_MPS2, Keyed, Knot, still
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
from sample_clips.feet import NEVER_S, Contact, Leaving, Meeting, Swing
from sample_clips.motion import HeldLeg, Leg, Motion
from sample_clips.skeleton import SIDES

LESS_ARMS = Arms(size=0.7)
FOREFOOT = Meeting(rear_rad=0.4, toes_rad=0.05)
ROLL = Leaving()
SWING = Swing(rear_rad=0.55)


@dataclass(frozen=True)
class OneLegStyle:
    """How one athlete jumps from one leg."""

    side: str = "left"
    rise_m: float = 0.12
    wait_s: float = 0.8
    sink_s: float = 0.5
    sink_m: float = 0.16
    landing_sink_m: float = 0.12
    knee_take_off_deg: float = 16.0
    knee_landing_deg: float = 24.0
    drift_mps: float = 0.04
    lean_bottom: float = 0.45
    lean_landing: float = 0.35
    roll_rad: float = 0.06
    knees_in_rad: float = 0.1
    free_knee_rad: float = 1.4
    free_hip_rad: float = 0.5
    wobble_m: float = 0.02
    """How far the centre of mass sways sideways after the landing."""
    lost_after_s: float | None = None
    """When the other foot comes down, from the landing; None when the landing is held."""
    arms: Arms = LESS_ARMS
    meeting: Meeting = FOREFOOT
    leaving: Leaving = ROLL
    swing: Swing = SWING
    hold_s: float = 0.25
    stand_s: float = 1.3
    seed: int = 0


def jump_from_one_leg(body: Body, style: OneLegStyle) -> Motion:
    """Build the motion.

    Raises
    ------
    CannotMove
        No body could do that.
    """
    sign = SIDES[style.side]
    first = Contact(
        -NEVER_S, NEVER_S, np.zeros(3), yaw_rad=sign * 0.1, meeting=style.meeting,
        leaving=style.leaving,
    )  # fmt: skip
    levels = _levels(body, style, first)
    speed = math.sqrt(2 * GRAVITY_MPS2 * style.rise_m)
    up_s = (levels["leave"] - levels["stand"] + style.sink_m) / (0.54 * speed)
    back = -0.45 * body.foot_m
    leave_s = style.wait_s + style.sink_s + up_s
    take_off = take_off_knot(
        leave_s, (0, levels["leave"], -0.28 * body.foot_m), (0, speed, style.drift_mps)
    )
    drop = levels["leave"] - levels["land"]
    landing = take_off.fly(
        (speed + math.sqrt(speed**2 + 2 * GRAVITY_MPS2 * drop)) / GRAVITY_MPS2
    )
    forward = landing.place_m[2] + 0.38 * body.foot_m
    knots = _after(style, landing, levels, forward + back)
    rng = np.random.default_rng(style.seed)
    stand = np.array([0, levels["stand"], back])
    before = sway(rng, centre=stand, start_s=-0.4, end_s=style.wait_s - 0.25)
    bottom_s = style.wait_s + style.sink_s
    bottom = knot(bottom_s, (0, levels["stand"] - style.sink_m, back + 0.02), (0, 0, 0.05),
                  speed / up_s * 1.25)  # fmt: skip
    path = make_path([*before, still(style.wait_s, stand), bottom, take_off, landing, *knots])
    times = [style.wait_s, bottom_s, leave_s, (leave_s + landing.time_s) / 2, landing.time_s,
             knots[0].time_s, knots[2].time_s]  # fmt: skip
    angles = join_stages(times, _stages(style), arms=style.arms)
    second = replace(first, start_s=landing.time_s, tip_m=np.array([0, 0, forward]))
    legs = {
        style.side: Leg((replace(first, end_s=leave_s), second), (style.swing,)),
        _other(style.side): Leg(held=_held(body, style, times, landing, forward)),
    }
    end_s = knots[-1].time_s + style.stand_s
    return Motion(body, angles, path, legs, ((leave_s, landing.time_s),), end_s)


def _other(side: str) -> str:
    return "right" if side == "left" else "left"


def _stages(style: OneLegStyle) -> list[Stage]:
    """Stand, bottom, take-off, top, landing, bottom, stand."""
    roll = style.roll_rad * SIDES[style.side]
    stand = Stage(lean=0.06, shoulder=0.1, elbow=0.4, spread=0.2, roll=roll)
    return [
        stand,
        Stage(lean=style.lean_bottom, shoulder=-0.7, elbow=0.4, head=0.2, roll=roll),
        Stage(lean=0.12, shoulder=2.2, elbow=0.5, roll=roll / 2),
        Stage(lean=0.12, shoulder=1.6, elbow=0.7, head=0.1, roll=roll / 2, spread=0.3),
        Stage(lean=0.2, shoulder=0.8, elbow=0.7, head=0.15, roll=roll, spread=0.5),
        Stage(lean=style.lean_landing, shoulder=0.5, elbow=0.6, head=0.2, roll=roll * 1.6,
              spread=0.6, knees_in=style.knees_in_rad),
        replace(stand, spread=0.35),
    ]  # fmt: skip


def _levels(body: Body, style: OneLegStyle, contact: Contact) -> dict[str, float]:
    stages = _stages(style)
    wanted = (
        ("stand", stages[0], contact, -0.45, 20.0),
        ("leave", stages[2], replace(contact, end_s=0.0), -0.28, style.knee_take_off_deg),
        ("land", stages[4], replace(contact, start_s=0.0), -0.38, style.knee_landing_deg),
    )
    return {
        name: mass_level_m(
            body, still_angles(stage, style.arms), feet={style.side: foot_at(foot, 0.0, body)},
            mass_xz_m=(0.0, z * body.foot_m), knee_deg=knee_deg,
        )
        for name, stage, foot, z, knee_deg in wanted
    }  # fmt: skip


def _after(
    style: OneLegStyle, landing: Knot, levels: dict[str, float], middle_z: float
) -> list[Knot]:
    speed = -landing.velocity_mps[1]
    brake_s = style.landing_sink_m / (0.44 * speed)
    if brake_s < 0.06:
        raise CannotMove("landing too stiff")
    low = levels["land"] - style.landing_sink_m
    deepest_s = landing.time_s + brake_s
    up_s = deepest_s + style.hold_s + 0.7
    sign = SIDES[_other(style.side)]
    aside = sign * style.wobble_m
    top = levels["stand"] - (0.03 if style.lost_after_s is not None else 0.0)
    return [
        knot(deepest_s, (0.3 * aside, low, middle_z - 0.01), (0, 0, 0), speed / brake_s * 0.9),
        knot(deepest_s + style.hold_s, (aside, low + 0.02, middle_z), (0, 0.05, 0), 0.0),
        knot(up_s, (-0.5 * aside, top, middle_z), (0, 0, 0), 0.0),
        still(up_s + 0.45, (0.3 * aside if style.lost_after_s is None else 2.5 * aside, top,
                            middle_z)),
    ]  # fmt: skip


def _held(
    body: Body, style: OneLegStyle, times: list[float], landing: Knot, forward: float
) -> HeldLeg:
    hip, knee = style.free_hip_rad, style.free_knee_rad
    swing_up = (hip, hip + 0.35, hip + 0.25, hip + 0.1, hip - 0.1, hip + 0.15, hip)
    bend = (knee, knee + 0.1, knee, knee - 0.1, knee - 0.1, knee + 0.15, knee)
    touch = None
    if style.lost_after_s is not None:
        sign = SIDES[_other(style.side)]
        touch = Contact(
            landing.time_s + style.lost_after_s, NEVER_S,
            np.array([sign * 0.14 * body.stature_m, 0.0, forward + 0.03]), yaw_rad=sign * 0.15,
            meeting=Meeting(0.3, 0.05, 0.1, 0.03),
        )  # fmt: skip
    return HeldLeg(Keyed(tuple(times), swing_up), Keyed(tuple(times), bend), touch=touch)
