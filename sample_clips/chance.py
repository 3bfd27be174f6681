"""Clips at random: athletes, jumps, places, cameras and phones, each from one seed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sample_clips.body import Body, Sex
from sample_clips.camera import Camera
from sample_clips.checks import check_motion
from sample_clips.exercises.hops import HopStyle, hop_off_a_box
from sample_clips.exercises.single_leg import OneLegStyle, jump_from_one_leg
from sample_clips.exercises.stages import Arms, CannotMove
from sample_clips.exercises.vertical import JumpStyle, jump_vertically
from sample_clips.feet import Leaving, Meeting, Swing
from sample_clips.film import Recording
from sample_clips.look import Look, draw_look
from sample_clips.motion import Motion
from sample_clips.scenario import Scenario
from sample_clips.scene import draw_place

Rng = np.random.Generator
TRIES = 60
PHONE_FIELD_DEG = (58.0, 72.0)


def draw_body(rng: Rng, look: Look, *, stature_m: float | None = None) -> Body:
    """A person at random; below 1.5 m a child."""
    if stature_m is None:
        stature_m = float(rng.uniform(1.28, 1.5) if rng.random() < 0.15 else rng.normal(1.72, 0.1))
    stature_m = round(float(np.clip(stature_m, 1.25, 1.98)), 2)
    sex: Sex = "female" if rng.random() < 0.5 else "male"
    mass = float(np.clip(rng.normal(22.5, 2), 17, 28)) * stature_m**2
    child = stature_m < 1.5
    sole = 0.0 if look.barefoot else float(rng.uniform(0.015, 0.035))
    return Body(
        stature_m, sex, round(mass * (0.8 if child else 1.0)), sole_m=sole,
        shoe_margin_m=0.0 if look.barefoot else float(rng.uniform(0.007, 0.015)),
        girth=float(np.clip(rng.normal(1.0, 0.07), 0.86, 1.18)),
        head_scale=float(np.interp(stature_m, [1.3, 1.6], [1.15, 1.0])),
    )  # fmt: skip


def draw_meeting(rng: Rng) -> Meeting:
    """Forefoot first mostly, else flat or heel first."""
    kind = rng.random()
    if kind < 0.68:
        return Meeting(
            float(rng.uniform(0.3, 0.8)), float(rng.uniform(0, 0.15)),
            float(rng.uniform(0.035, 0.09)), float(rng.uniform(0.012, 0.03)),
        )  # fmt: skip
    if kind < 0.84:
        return Meeting(0.0, 0.0)
    return Meeting(float(rng.uniform(-0.3, -0.1)), 0.0, float(rng.uniform(0.03, 0.06)))


def draw_leaving(rng: Rng) -> Leaving:
    """A roll over the ball; bare and soft feet bend their toes more and leave more slowly."""
    rear = float(rng.uniform(0.85, 1.15))
    return Leaving(
        rear, float(rng.uniform(0.3, 0.65)) * rear, float(rng.uniform(0.13, 0.19)),
        float(rng.uniform(0.02, 0.045)), float(rng.uniform(0.002, 0.010)),
    )  # fmt: skip


def draw_jump_style(rng: Rng, body: Body, *, rise_m: float | None = None) -> JumpStyle:
    """A countermovement jump at random; depths go with stature."""
    size = body.stature_m / 1.72
    if rise_m is None:
        rise_m = float(rng.uniform(0.08, 0.45) * (0.6 if size < 0.88 else 1.0))
    stiff = rng.random()
    return JumpStyle(
        rise_m=rise_m,
        wait_s=float(rng.uniform(0.7, 1.0)),
        sink_s=float(rng.uniform(0.4, 0.65)),
        sink_m=float(rng.uniform(0.16, 0.34)) * size,
        landing_sink_m=float(0.09 + 0.22 * stiff) * size * (0.7 + 0.6 * math.sqrt(rise_m / 0.45)),
        knee_take_off_deg=float(rng.uniform(10, 24)),
        knee_landing_deg=float(rng.uniform(9, 22) if rng.random() < 0.75 else rng.uniform(30, 58)),
        drift_mps=float(rng.normal(0.05, 0.12)),
        stance_m=float(rng.uniform(0.09, 0.17)) * size,
        toes_out_rad=float(rng.uniform(0.0, 0.3)),
        knees_in_rad=float(rng.normal(0.0, 0.25)),
        lean_bottom=float(rng.uniform(0.4, 0.85)),
        lean_contact=float(rng.uniform(0.05, 0.35)),
        lean_landing=float(rng.uniform(0.2, 0.3) + 0.45 * stiff),
        arms=Arms(bool(rng.random() < 0.25), float(rng.normal(0, 0.15)),
                  float(rng.uniform(0.5, 1))),
        meeting=draw_meeting(rng),
        leaving=draw_leaving(rng),
        swing=Swing(float(rng.uniform(0.0, 0.05)), float(rng.uniform(0.3, 0.8)),
                    float(rng.uniform(0, 0.2))),
        approach_mps=float(rng.normal(0, 0.25)),
        lead_s=float(abs(rng.normal(0, 0.004))),
        lag_s=float(rng.exponential(0.008)),
        hold_s=float(rng.uniform(0.1, 0.6)),
        rise_again_s=float(rng.uniform(0.6, 1.0)),
        stand_s=float(rng.uniform(0.4, 0.7)),
        stagger_m=float(rng.normal(0, 0.02)),
        seed=int(rng.integers(1 << 30)),
    )  # fmt: skip


def draw_camera(rng: Rng, motion: Motion, *, view: str, portrait: bool = False) -> Camera:
    """A phone that sees the whole motion, at a height at which people put phones."""
    times = np.linspace(0, motion.end_s, 60)
    path = motion.path.place_m(times)
    stature = motion.body.stature_m
    low, high = path.min(0), path.max(0)
    middle = (low + high) / 2
    angle = {"side": 90.0, "front": 0.0, "oblique": 45.0}[view] * float(rng.choice([-1, 1]))
    angle = math.radians(angle + float(rng.normal(0, 4 if view != "oblique" else 8)))
    towards = np.array([math.sin(angle), 0.0, math.cos(angle)])
    width, height = (720, 1280) if portrait else (1280, 720)
    field = float(rng.uniform(*PHONE_FIELD_DEG)) * (0.62 if portrait else 1.0)
    focal = width / 2 / math.tan(math.radians(field) / 2)
    # Arms reach 0.22 of the stature above the head; a margin for turns of the camera.
    tall = 1.27 * stature + float(high[1] - path[0, 1])
    wide = float(np.ptp(path @ np.array([towards[2], 0, -towards[0]]))) + 1.5
    near = max(tall / height, wide / width) * focal
    away = near * float(rng.uniform(1.08, 1.4))
    eye_height = float(rng.uniform(0.3, 1.45))
    aim = np.array([middle[0], tall / 2 - 0.04, middle[2]])
    eye = aim + away * towards
    eye[1] = eye_height
    shake = float(rng.uniform(0.001, 0.003)) if rng.random() < 0.15 else 0.0
    return Camera(
        width, height, field, (float(eye[0]), float(eye[1]), float(eye[2])),
        (float(aim[0]), float(aim[1]), float(aim[2])), float(rng.normal(0, 0.008)), shake,
        int(rng.integers(1 << 30)),
    )  # fmt: skip


def draw_recording(rng: Rng, *, rate_hz: float | None = None) -> Recording:
    """A phone's settings at random: mostly 60 and 30 per second."""
    rate = rate_hz or float(rng.choice([60, 60, 60, 60, 60, 30, 30, 30, 30, 120]))
    exposure = min(1 / float(rng.uniform(100, 500)), 0.8 / rate)
    base = Recording(
        rate, rate, exposure_s=exposure, noise=float(rng.uniform(1.0, 4.0)),
        crf=int(rng.integers(23, 29)), seed=int(rng.integers(1 << 30)),
    )  # fmt: skip
    special = rng.random()
    if rate == 60 and special < 0.12:
        return replace(base, variable_rate=True)
    if rate == 30 and special < 0.12:
        return replace(base, container_rate_hz=60.0, repeats=2)
    if rate == 240 and special < 0.5:
        return replace(base, container_rate_hz=30.0)
    return base


Choose = Callable[[Rng, Body], Motion]


def vertical(rng: Rng, body: Body) -> Motion:
    """A countermovement jump."""
    return jump_vertically(body, draw_jump_style(rng, body))


def drop_hops(rng: Rng, body: Body) -> Motion:
    """Three to five hops off a box."""
    count, size = int(rng.integers(3, 6)), body.stature_m / 1.72
    rise, stay = rng.uniform(0.08, 0.28), rng.uniform(0.15, 0.28)
    leaving = draw_leaving(rng)
    return hop_off_a_box(
        body,
        HopStyle(
            rises_m=tuple(float(rise * rng.uniform(0.85, 1.15)) for _ in range(count)),
            contacts_s=tuple(float(stay * rng.uniform(0.92, 1.1)) for _ in range(count)),
            box_m=float(rng.uniform(0.15, 0.35)) * size,
            wait_s=float(rng.uniform(0.3, 0.6)),
            forward_mps=float(rng.uniform(0.5, 1.1)),
            knee_take_off_deg=float(rng.uniform(12, 24)),
            knee_landing_deg=float(rng.uniform(18, 36)),
            stance_m=float(rng.uniform(0.08, 0.14)) * size,
            toes_out_rad=float(rng.uniform(0, 0.25)),
            lean=float(rng.uniform(0.06, 0.2)),
            heel_up_rad=float(rng.choice([0.0, 0.1, 0.2])),
            arms=Arms(bool(rng.random() < 0.3), float(rng.normal(0, 0.12)),
                      float(rng.uniform(0.3, 0.7))),
            meeting=Meeting(float(rng.uniform(0.2, 0.5)), float(rng.uniform(0, 0.1)),
                            float(rng.uniform(0.03, 0.06)), 0.015),
            leaving=replace(leaving, rear_s=min(0.55 * stay, 0.12)),
            swing=Swing(float(rng.uniform(0, 0.1)), float(rng.uniform(0.4, 0.8))),
            landing_sink_m=float(rng.uniform(0.12, 0.25)) * size,
            hold_s=float(rng.uniform(0.2, 0.5)),
            stand_s=float(rng.uniform(0.4, 0.8)),
            lag_s=float(rng.exponential(0.003)),
        ),
    )  # fmt: skip


def single_leg_vertical(rng: Rng, body: Body, *, is_lost: bool | None = None) -> Motion:
    """A jump on one leg, mostly held."""
    size = body.stature_m / 1.72
    loses = rng.random() < 0.35 if is_lost is None else is_lost
    lost = float(rng.uniform(0.5, 1.0)) if loses else None
    return jump_from_one_leg(
        body,
        OneLegStyle(
            side=str(rng.choice(["left", "right"])),
            rise_m=float(rng.uniform(0.06, 0.22)),
            wait_s=float(rng.uniform(0.6, 0.9)),
            sink_s=float(rng.uniform(0.4, 0.6)),
            sink_m=float(rng.uniform(0.10, 0.2)) * size,
            landing_sink_m=float(rng.uniform(0.07, 0.17)) * size,
            knee_take_off_deg=float(rng.uniform(12, 24)),
            knee_landing_deg=float(rng.uniform(14, 32)),
            drift_mps=float(rng.normal(0.04, 0.08)),
            lean_bottom=float(rng.uniform(0.3, 0.6)),
            lean_landing=float(rng.uniform(0.2, 0.5)),
            roll_rad=float(rng.uniform(-0.02, 0.12)),
            knees_in_rad=float(rng.normal(0.08, 0.2)),
            free_knee_rad=float(rng.uniform(1.3, 1.8)),
            free_hip_rad=float(rng.uniform(0.35, 0.85)),
            wobble_m=float(abs(rng.normal(0, 0.015))) if lost is None else 0.03,
            lost_after_s=lost,
            arms=Arms(bool(rng.random() < 0.3), float(rng.normal(0, 0.2)),
                      float(rng.uniform(0.4, 0.9))),
            meeting=Meeting(float(rng.uniform(0.2, 0.55)), float(rng.uniform(0, 0.12))),
            leaving=draw_leaving(rng),
            stand_s=float(rng.uniform(0.8, 1.4)),
            seed=int(rng.integers(1 << 30)),
        ),
    )  # fmt: skip


def turn_jump(rng: Rng, body: Body) -> Motion:
    """A countermovement jump with a quarter turn."""
    style = draw_jump_style(rng, body)
    turn = float(rng.choice([-1, 1])) * math.radians(float(rng.normal(90, 6)))
    return jump_vertically(
        body, replace(style, turn_rad=turn, stagger_m=0.0, rise_m=max(style.rise_m, 0.15))
    )


CHOICES: dict[str, tuple[Choose, tuple[str, ...]]] = {
    "vertical": (vertical, ("side", "side", "front", "oblique")),
    "drop_hops": (drop_hops, ("side",)),
    "single_leg_vertical": (single_leg_vertical, ("side", "front")),
    "turn_jump": (turn_jump, ("front",)),
}


def draw_scenario(kind: str, seed: int, *, rate_hz: float | None = None) -> Scenario:
    """A whole clip of one exercise at random.

    Raises
    ------
    CannotMove
        No possible motion was found.
    """
    for attempt in range(TRIES):
        rng = np.random.default_rng([seed, attempt, *kind.encode()])
        try:
            return _try_scenario(kind, seed, rng, rate_hz)
        except CannotMove:
            continue
    raise CannotMove(f"{kind} {seed}: nothing possible in {TRIES} tries")


def _try_scenario(kind: str, seed: int, rng: Rng, rate_hz: float | None) -> Scenario:
    choose, views = CHOICES[kind]
    look = draw_look(rng)
    motion = choose(rng, draw_body(rng, look))
    check_motion(motion)
    view = str(rng.choice(views))
    portrait = bool(rng.random() < 0.15) and kind == "vertical"
    recording = draw_recording(rng, rate_hz=rate_hz)
    if portrait:
        recording = replace(recording, rotation_deg=90)
    return Scenario(
        name=f"{kind}_{view}_{seed}", exercise=kind, view=view, motion=motion, look=look,
        place=draw_place(rng), camera=draw_camera(rng, motion, view=view, portrait=portrait),
        recording=recording, lens_blur_px=float(rng.uniform(0.45, 0.8)), seed=seed,
        start_s=float(rng.uniform(0.2, 0.4)) if kind == "vertical" else 0.0,
    )  # fmt: skip


