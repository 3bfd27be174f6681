"""The true values of a clip, from the motion itself."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from sample_clips.camera import Camera
from sample_clips.curves import GRAVITY_MPS2, Floats
from sample_clips.motion import Motion
from sample_clips.skeleton import SIDES, Joints, flexion_deg

STEP_S = 0.0005
STEADY_MPS, STEADY_FOR_S = 0.10, 0.5
PEAK_WITHIN_S = 0.9
TOGETHER_S = 0.1
JOINTS = (
    "nose", "eye.L", "eye.R", "ear.L", "ear.R", "shoulder.L", "shoulder.R", "elbow.L", "elbow.R",
    "wrist.L", "wrist.R", "hip.L", "hip.R", "knee.L", "knee.R", "ankle.L", "ankle.R", "heel.L",
    "heel.R", "toe.L", "toe.R",
)  # fmt: skip


def joint_pixels(motion: Motion, camera: Camera, times_s: Floats) -> Floats:
    """Joint centres in the picture, (T, 21, 2), in the order of `JOINTS`."""
    joints = motion.joints(times_s)
    places = np.stack([joints[_plain(name)] for name in JOINTS], 1)
    pixels, _ = camera.project(places, times_s)
    return pixels


def _plain(name: str) -> str:
    joint, _, side = name.partition(".")
    return joint if not side else f"{'left' if side == 'L' else 'right'}_{joint}"


def tell_truth(
    motion: Motion, camera: Camera, *, view: str, first_s: float, last_s: float, exercise: str
) -> dict[str, Any]:
    """Contacts and jumps of a clip.

    Parameters
    ----------
    first_s, last_s : float
        Motion times of the first and the last frame; the truth counts from the first.
    """
    contacts = [
        _contact(side, contact.start_s, contact.end_s, first_s, last_s)
        for side in SIDES
        for contact in motion.contacts(side)
        if contact.start_s < last_s and contact.end_s > first_s
    ]
    contacts.sort(key=lambda c: (c["start_s"] is not None, c["start_s"] or 0.0, c["foot"]))
    jumps = []
    for number, flight in enumerate(motion.flights_s):
        if flight[0] < first_s or flight[1] > last_s:
            continue
        later = motion.flights_s[number + 1][0] if number + 1 < len(motion.flights_s) else None
        jump = _jump(motion, flight, first_s=first_s, exercise=exercise)
        jump["landing"] = _landing(motion, camera, flight[1], until_s=later or last_s,
                                   is_last=later is None, view=view)  # fmt: skip
        jumps.append(jump)
    return {"contacts": contacts, "jumps": jumps}


def _contact(
    side: str, start_s: float, end_s: float, first_s: float, last_s: float
) -> dict[str, Any]:
    return {
        "foot": side,
        "start_s": None if start_s < first_s else _seconds(start_s - first_s),
        "end_s": None if end_s > last_s else _seconds(end_s - first_s),
    }


def _seconds(value: float) -> float:
    return round(float(value), 6)


def _jump(
    motion: Motion, flight: tuple[float, float], *, first_s: float, exercise: str
) -> dict[str, Any]:
    leave_s, land_s = flight
    duration = land_s - leave_s
    ends = motion.path.place_m(np.array([leave_s, land_s, -0.5]))[:, 1]
    speed = motion.path.velocity_mps(np.array([leave_s]))[0, 1]
    top = ends[0] + speed**2 / (2 * GRAVITY_MPS2)
    height = GRAVITY_MPS2 * duration**2 / 8
    every = [(side, contact) for side in SIDES for contact in motion.contacts(side)]
    before = {s: c for s, c in every if abs(c.end_s - leave_s) < TOGETHER_S}
    after = [s for s, c in every if -1e-9 <= c.start_s - land_s < TOGETHER_S]
    jump: dict[str, Any] = {
        "take_off_s": _seconds(leave_s - first_s),
        "landing_s": _seconds(land_s - first_s),
        "flight_time_s": _seconds(duration),
        "height_m": round(height, 6),
        "height_com_m": round(float(top - ends[0]), 6),
        "height_standing_m": round(float(top - ends[2] + motion.notes.get("box_m", 0.0)), 6),
        "com_drop_at_landing_m": round(float(ends[0] - ends[1]), 6),
        "take_off_side": _side_name(list(before)),
        "landing_side": _side_name(after),
    }
    down_s = min((c.start_s for c in before.values()), default=-np.inf)
    if down_s > first_s:
        jump["contact_time_s"] = _seconds(leave_s - down_s)
        if exercise == "drop_hops":
            jump["rsi_mps"] = round(height / (leave_s - down_s), 6)
    if exercise == "turn_jump":
        yaw = motion.angles.yaw(np.array([leave_s, land_s]))
        jump["turn_deg"] = round(float(np.degrees(yaw[1] - yaw[0])), 3)
    return jump


def _side_name(sides: list[str]) -> str:
    return "both" if len(sides) == 2 else sides[0]


def _landing(
    motion: Motion, camera: Camera, land_s: float, *, until_s: float, is_last: bool, view: str
) -> dict[str, Any]:
    first = {
        side: min(c.start_s for c in motion.contacts(side) if c.start_s >= land_s - 1e-9)
        for side in SIDES
        if any(-1e-9 <= c.start_s - land_s < TOGETHER_S for c in motion.contacts(side))
    }
    times = np.arange(land_s, until_s, STEP_S)
    joints = motion.joints(times)
    near = times <= min(land_s + PEAK_WITHIN_S, until_s)
    lean = _lean_deg(joints, motion, times)
    contact_s = np.array(list(first.values()))
    touched = motion.joints(contact_s)
    landing: dict[str, Any] = {
        "knee_flexion_contact_deg": {
            side: round(float(motion.knee_deg(touched, side)[k]), 4)
            for k, side in enumerate(first)
        },
        "knee_flexion_peak_deg": {
            side: round(float(motion.knee_deg(joints, side)[near].max()), 4) for side in first
        },
        "trunk_lean_contact_deg": round(float(lean[0]), 4),
        "trunk_lean_peak_deg": round(float(lean[near].max()), 4),
        "hip_flexion_contact_deg": round(
            float(np.mean([_hip_deg(touched, side)[0] for side in first])), 4
        ),
    }
    if view == "front":
        landing |= _frontal(joints, camera, times, near=near, sides=list(first))
    if len(first) == 2:
        landing["foot_lag_s"] = _seconds(abs(contact_s[1] - contact_s[0]))
    if is_last:
        landing |= _steadiness(motion, joints, times, land_s, until_s=until_s, sides=list(first))
    return landing


def _lean_deg(joints: Joints, motion: Motion, times: Floats) -> Floats:
    trunk = joints["mid_shoulder"] - joints["mid_hip"]
    yaw = motion.angles.yaw(times)
    ahead = np.stack([np.sin(yaw), 0 * yaw, np.cos(yaw)], -1)
    lean: Floats = np.degrees(np.arctan2(np.sum(trunk * ahead, -1), trunk[:, 1]))
    return lean


def _hip_deg(joints: Joints, side: str) -> Floats:
    """Between trunk (mid-hip to mid-shoulder) and thigh, 0 for a straight line."""
    trunk = joints["mid_shoulder"] - joints["mid_hip"]
    thigh = joints[f"{side}_knee"] - joints[f"{side}_hip"]
    zero = np.zeros_like(trunk)
    return flexion_deg(trunk, zero, thigh)


def _frontal(
    joints: Joints, camera: Camera, times: Floats, *, near: Floats, sides: list[str]
) -> dict[str, Any]:
    deepest = int(np.argmin(np.where(near, joints["mid_hip"][:, 1], np.inf)))
    names = [f"{side}_{joint}" for side in SIDES for joint in ("hip", "knee", "ankle")]
    places = np.stack([joints[name][deepest] for name in names])[None]
    pixels = camera.project(places, times[deepest : deepest + 1])[0][0]
    spot = dict(zip(names, pixels, strict=True))
    found: dict[str, Any] = {"frontal_knee_angle_deg": {
        side: round(_inward_deg(spot, side), 4) for side in sides}}  # fmt: skip
    if len(sides) == 2:
        apart = {
            j: float(np.linalg.norm(spot[f"left_{j}"] - spot[f"right_{j}"]))
            for j in ("knee", "ankle")
        }
        found["knee_ankle_separation_ratio"] = round(apart["knee"] / apart["ankle"], 6)
    return found


def _inward_deg(spot: Mapping[str, Floats], side: str) -> float:
    """Bend at the knee in the picture; positive with the knee inside the line hip to ankle."""
    hip, knee, ankle = (spot[f"{side}_{joint}"] for joint in ("hip", "knee", "ankle"))
    upper, lower = knee - hip, ankle - knee
    turn = np.arctan2(upper[0] * lower[1] - upper[1] * lower[0], upper @ lower)
    # The picture's y points down, and the athlete's left is on its right when seen from the front.
    inside = -1.0 if side == "left" else 1.0
    facing = np.sign(spot["left_hip"][0] - spot["right_hip"][0])
    return float(np.degrees(turn) * inside * facing)


def _steadiness(
    motion: Motion, joints: Joints, times: Floats, land_s: float, *, until_s: float,
    sides: list[str],
) -> dict[str, Any]:  # fmt: skip
    speed = np.linalg.norm(np.gradient(joints["mid_hip"], STEP_S, axis=0), axis=1)
    slow = speed < STEADY_MPS
    count = round(STEADY_FOR_S / STEP_S)
    runs = np.convolve(slow, np.ones(count), "valid") > count - 0.5
    found: dict[str, Any] = {}
    if runs.any():
        found["time_to_steady_s"] = round(float(times[int(np.argmax(runs))] - land_s), 4)
    late = [c.start_s for s in SIDES for c in motion.contacts(s)
            if c.start_s > land_s + TOGETHER_S and c.start_s < until_s]  # fmt: skip
    moves = [c.end_s for s in sides for c in motion.contacts(s) if land_s < c.end_s < until_s]
    first = min([*late, *moves], default=None)
    found["held_s"] = _seconds((first if first is not None else until_s) - land_s)
    found["extra_step"] = first is not None
    return found
