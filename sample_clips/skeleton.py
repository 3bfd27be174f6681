"""From posture to joint centres; the pelvis is placed so that the mass is on its path."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sample_clips.body import (
    FOREARM,
    HALF_HIPS,
    HALF_SHOULDERS,
    HAND,
    HIP_TO_SHOULDER,
    MIDLINE,
    NECK_TO_VERTEX,
    SEGMENTS,
    SHOULDER_TO_NECK,
    UPPER_ARM,
    Body,
)
from sample_clips.curves import Floats

Joints = dict[str, Floats]
SIDES = {"left": 1.0, "right": -1.0}
UP = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True)
class Frame:
    """Axes of a part over time, (T, 3) each: to its left, up along it, and to its front."""

    left: Floats
    up: Floats
    front: Floats

    def at(self, left_m: float, up_m: float, front_m: float) -> Floats:
        """A vector given along the axes."""
        return left_m * self.left + up_m * self.up + front_m * self.front


def frame_of(yaw_rad: Floats, lean_rad: Floats, roll_rad: Floats) -> Frame:
    """Axes after turning to the left by yaw, leaning forward, and rolling to the left."""
    zero = np.zeros_like(yaw_rad)
    left = np.stack([np.cos(yaw_rad), zero, -np.sin(yaw_rad)], -1)
    ahead = np.stack([np.sin(yaw_rad), zero, np.cos(yaw_rad)], -1)
    sine, cosine = np.sin(lean_rad)[:, None], np.cos(lean_rad)[:, None]
    up, front = cosine * UP + sine * ahead, cosine * ahead - sine * UP
    sine, cosine = np.sin(roll_rad)[:, None], np.cos(roll_rad)[:, None]
    return Frame(cosine * left - sine * up, cosine * up + sine * left, front)


@dataclass(frozen=True)
class Posture:
    """Everything about the body but the legs, over time; angles in rad, (T,) each."""

    yaw_rad: Floats
    lean_rad: Floats
    roll_rad: Floats
    head_rad: Floats
    shoulder_rad: Mapping[str, Floats]
    """Upper arm forward and up from hanging, by side."""
    spread_rad: Mapping[str, Floats]
    """Upper arm away from the body, by side."""
    elbow_rad: Mapping[str, Floats]
    inward_rad: float = 0.15
    """How far the forearm points inward; about 1.9 puts the hands on the hips."""

    def trunk(self) -> Frame:
        """Axes of the trunk."""
        return frame_of(self.yaw_rad, self.lean_rad, self.roll_rad)


def upper_body(body: Body, posture: Posture) -> Joints:
    """Joints above the hips relative to the middle of the hips, and the hips."""
    trunk, stature = posture.trunk(), body.stature_m
    pelvis = frame_of(posture.yaw_rad, 0 * posture.lean_rad, 0.4 * posture.roll_rad)
    joints: Joints = {
        "mid_hip": 0 * trunk.up,
        "mid_shoulder": HIP_TO_SHOULDER * stature * trunk.up,
    }
    head = frame_of(posture.yaw_rad, posture.head_rad, 0.5 * posture.roll_rad)
    joints["neck"] = joints["mid_shoulder"] + SHOULDER_TO_NECK * stature * trunk.up
    joints["vertex"] = joints["neck"] + NECK_TO_VERTEX * body.head_scale * stature * head.up
    joints |= _face(joints["vertex"], head, stature * body.head_scale)
    for side, sign in SIDES.items():
        joints[f"{side}_hip"] = sign * HALF_HIPS * stature * pelvis.left
        joints[f"{side}_shoulder"] = (
            joints["mid_shoulder"] + sign * HALF_SHOULDERS * stature * trunk.left
        )
        joints |= _arm(body, posture, side=side, trunk=trunk, start=joints[f"{side}_shoulder"])
    return joints


def _face(vertex: Floats, head: Frame, size_m: float) -> Joints:
    face = {"nose": vertex + head.at(0, -0.078 * size_m, 0.066 * size_m)}
    for side, sign in SIDES.items():
        face[f"{side}_eye"] = vertex + head.at(sign * 0.018 * size_m, -0.06 * size_m, 0.05 * size_m)
        face[f"{side}_ear"] = vertex + head.at(sign * 0.043 * size_m, -0.07 * size_m, -0.004)
    return face


def _arm(body: Body, posture: Posture, *, side: str, trunk: Frame, start: Floats) -> Joints:
    sign, stature = SIDES[side], body.stature_m
    flexion, spread = posture.shoulder_rad[side][:, None], posture.spread_rad[side][:, None]
    elbow = posture.elbow_rad[side][:, None]
    hanging = -np.cos(flexion) * trunk.up + np.sin(flexion) * trunk.front
    bending = np.sin(flexion) * trunk.up + np.cos(flexion) * trunk.front
    outward = sign * trunk.left
    upper = np.cos(spread) * hanging + np.sin(spread) * outward
    across = np.cos(spread) * outward - np.sin(spread) * hanging
    inward = posture.inward_rad
    turn = np.cos(inward) * bending - np.sin(inward) * across
    fore = np.cos(elbow) * upper + np.sin(elbow) * turn
    joint = start + UPPER_ARM * stature * upper
    wrist = joint + FOREARM * stature * fore
    return {
        f"{side}_elbow": joint,
        f"{side}_wrist": wrist,
        f"{side}_knuckle": wrist + 0.62 * HAND * stature * fore,
        f"{side}_fingertip": wrist + HAND * stature * fore,
    }


def bend_leg(hip: Floats, ankle: Floats, *, body: Body, ahead: Floats) -> tuple[Floats, Floats]:
    """Place the knee on the side that ``ahead`` points to.

    Returns
    -------
    knee : ndarray of shape (T, 3)
    stretch : ndarray of shape (T,)
        Distance hip to ankle over the leg's length; from 1 on the leg cannot reach.
    """
    thigh, shank = body.thigh_m, body.shank_m
    line = ankle - hip
    distance = np.linalg.norm(line, axis=-1)
    reach = np.clip(distance, 0.2 * thigh, (thigh + shank) * (1 - 1e-9))
    axis = line / distance[:, None]
    along = (reach**2 + thigh**2 - shank**2) / (2 * reach)
    aside = np.sqrt(np.maximum(thigh**2 - along**2, 0.0))
    pole = ahead - np.sum(ahead * axis, -1, keepdims=True) * axis
    pole = pole / np.linalg.norm(pole, axis=-1, keepdims=True)
    return hip + along[:, None] * axis + aside[:, None] * pole, distance / (thigh + shank)


def centre_of_mass(joints: Joints, body: Body) -> Floats:
    """Centre of mass of the whole body, (T, 3)."""
    total, centre = 0.0, np.zeros_like(joints["mid_hip"])
    for ends, by_sex in SEGMENTS.items():
        mass, share = by_sex[body.sex]
        first, second = ends.split("-")
        for prefix in ("",) if first in MIDLINE else ("left_", "right_"):
            centre = centre + mass * (
                (1 - share) * joints[prefix + first] + share * joints[prefix + second]
            )
            total += mass
    return centre / total


def place_pelvis(
    build: Callable[[Floats], Joints], target_m: Floats, *, body: Body, rounds: int = 8
) -> Joints:
    """Find the pelvis for which the centre of mass is at its target, by Newton's method.

    Parameters
    ----------
    build : callable
        From places of the middle of the hips, (T, 3), to all joints.
    target_m : ndarray of shape (T, 3)
        Where the centre of mass has to be.
    """
    pelvis, step_m = target_m.copy(), 1e-5
    for number in range(rounds):
        miss = target_m - centre_of_mass(build(pelvis), body)
        if np.max(np.abs(miss)) < 1e-13:
            break
        if number < 4:
            slopes = np.stack(
                [
                    (target_m - centre_of_mass(build(pelvis + step_m * axis), body) - miss)
                    / -step_m
                    for axis in np.eye(3)
                ],
                -1,
            )
        pelvis = pelvis + np.clip(np.linalg.solve(slopes, miss[..., None])[..., 0], -0.2, 0.2)
    return build(pelvis)


def flexion_deg(first: Floats, joint: Floats, second: Floats) -> Floats:
    """Bend of a joint from straight, degrees, (T,)."""
    a, b = first - joint, second - joint
    across = np.linalg.norm(np.cross(a, b), axis=-1)
    bend: Floats = 180.0 - np.degrees(np.arctan2(across, np.sum(a * b, -1)))
    return bend
