"""Soft shadows on the ground: of the whole body, and close under the feet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from sample_clips.curves import Floats
from sample_clips.scene import OVER
from sample_clips.skeleton import SIDES, Joints

if TYPE_CHECKING:
    from sample_clips.picture import Shot

# Pieces of the body and their half thickness as a fraction of stature.
PIECES = (
    ("mid_hip", "mid_shoulder", 0.08), ("neck", "vertex", 0.045),
    *((f"{s}_{a}", f"{s}_{b}", t) for s in SIDES for a, b, t in (
        ("hip", "knee", 0.042), ("knee", "ankle", 0.028), ("shoulder", "elbow", 0.024),
        ("elbow", "wrist", 0.018), ("wrist", "fingertip", 0.014), ("heel_edge", "ball", 0.024),
        ("ball", "tip", 0.024))),
)  # fmt: skip
COARSE = 2
CONTACT = 0.55
CONTACT_REACH_M = 0.035


def shadow_light(
    joints: Joints, shot: Shot, times_s: Floats, box: tuple[int, int, int, int]
) -> Floats:
    """How much light is left on the patch of ground in a box, at `OVER` times its size, 0 to 1."""
    middle = times_s.size // 2
    at = {name: place[middle] for name, place in joints.items() if place.ndim == 2}
    width, height = box[2] - box[0], box[3] - box[1]
    mask = np.zeros((height * OVER // COARSE, width * OVER // COARSE), np.uint8)
    time = times_s[middle : middle + 1]
    _cast(mask, at, shot, time, box)
    cast = cv2.GaussianBlur(mask, (0, 0), shot.place.shadow_blur_px * OVER / COARSE)
    near = _contact(mask.shape, at, shot, time, box)
    light = (1 - shot.place.shadow / 255 * cast.astype(np.float32)) * (1 - CONTACT * near)
    return cv2.resize(light, (width * OVER, height * OVER), interpolation=cv2.INTER_LINEAR)


def _spots(places: Floats, shot: Shot, time: Floats, box: tuple[int, int, int, int]) -> Floats:
    pixels, _ = shot.camera.project(places[None], time)
    return (pixels[0] - np.array(box[:2])) * OVER / COARSE - 0.5


def _cast(mask: Floats, at: Joints, shot: Shot, time: Floats, box: tuple[int, ...]) -> None:
    light = np.array(shot.place.light)
    for first, second, half in PIECES:
        ends = np.stack([at[first], at[second]])
        ends = ends - ends[:, 1:2] / light[1] * light
        a, b = _spots(ends, shot, time, box)  # type: ignore[arg-type]
        _, depth = shot.camera.project(ends[None], time)
        wide = 2 * half * shot.motion.body.stature_m * shot.camera.focal_px / depth.mean()
        cv2.line(
            mask, _fixed(a), _fixed(b), 255, max(1, round(wide * OVER / COARSE * 0.8)), 8, 4
        )


def _fixed(spot: Floats) -> tuple[int, int]:
    x, y = np.clip(np.round(spot * 16), -60000, 60000).astype(int)
    return int(x), int(y)


def _contact(
    shape: tuple[int, ...], at: Joints, shot: Shot, time: Floats, box: tuple[int, ...]
) -> Floats:
    """Darkness close under the feet, 0 to 1: sharp and dark when they touch."""
    body, dark = shot.motion.body, np.zeros(shape, np.float32)
    half = 0.030 * body.stature_m
    for side in SIDES:
        for first, second in (("heel_edge", "ball"), ("ball", "tip")):
            ends = np.stack([at[f"{side}_{first}"], at[f"{side}_{second}"]])
            height = float(ends[:, 1].mean())
            if height > 4 * CONTACT_REACH_M:
                continue
            line = (ends[1] - ends[0]) * np.array([1, 0, 1])
            across = np.cross([0, 1.0, 0], line / (np.linalg.norm(line) + 1e-9)) * half
            floor = ends * np.array([1, 0, 1])
            spots = _spots(
                np.stack([floor[0] - across, floor[1] - across, floor[1] + across,
                          floor[0] + across]), shot, time, box,  # type: ignore[arg-type]
            )  # fmt: skip
            mask = np.zeros(shape, np.uint8)
            cv2.fillConvexPoly(mask, np.round(spots * 16).astype(np.int32), 255, 8, 4)
            blur = 1.2 + 60 * max(height, 0)
            soft = cv2.GaussianBlur(mask, (0, 0), blur).astype(np.float32) / 255
            dark = np.maximum(dark, soft * np.exp(-max(height, 0) / CONTACT_REACH_M))
    return dark
