"""Head, face and hair."""

from __future__ import annotations

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import Floats
from sample_clips.look import Look
from sample_clips.skeleton import Joints
from sample_clips.tubes import Skin, ring_faces, tube_points, unit

RINGS, SIDES_COUNT = 17, 22
LIPS = (90.0, 90.0, 165.0)


def head_skins(joints: Joints, body: Body, look: Look) -> list[Skin]:
    """Skull with hair, and the features that a face is known by."""
    size = body.stature_m * body.head_scale
    up = unit(joints["vertex"] - joints["neck"])
    left = unit(joints["left_ear"] - joints["right_ear"])
    left = unit(left - np.sum(left * up, -1, keepdims=True) * up)
    front = np.cross(left, up)
    axes = (left, up, front)
    skull = joints["vertex"] - 0.068 * size * up
    return [
        _skull(skull, axes, size, look),
        *_features(joints["vertex"], axes, size, look),
        *([_tail(skull, axes, size, look)] if look.long_hair else []),
    ]


def _skull(centre: Floats, axes: tuple[Floats, ...], size: float, look: Look) -> Skin:
    left, up, front = axes
    level = np.cos(np.linspace(0.03, np.pi - 0.03, RINGS))
    round_ = np.sqrt(1 - level**2)
    chin = np.clip(-level, 0, 1)
    half = size * np.stack(
        [0.0445 * round_ * (1 - 0.22 * chin), 0.056 * round_ * (1 - 0.05 * chin),
         0.056 * round_ * (1 - 0.35 * chin)], -1,
    )  # fmt: skip
    middles = centre[:, None] + (0.068 * size * level)[None, :, None] * up[:, None]
    middles = middles + (0.008 * size * chin)[None, :, None] * front[:, None]
    shape = middles.shape
    points = tube_points(
        middles, np.broadcast_to(left[:, None], shape), np.broadcast_to(front[:, None], shape),
        half_m=half, sides=SIDES_COUNT,
    )  # fmt: skip
    height = np.repeat((level[1:] + level[:-1]) / 2, SIDES_COUNT)
    angle = np.tile(2 * np.pi * (np.arange(SIDES_COUNT) + 1) / SIDES_COUNT, RINGS - 1)
    back = np.sin(angle) < -0.25
    sides = (np.sin(angle) < 0.12) & (height > 0.1)
    hair = (height > 0.62) | sides | (back & (height > -0.45))
    colours = np.where(hair[:, None], look.hair, look.skin)
    return Skin(points, ring_faces(RINGS, SIDES_COUNT), colours)


def _features(
    vertex: Floats, axes: tuple[Floats, ...], size: float, look: Look
) -> list[Skin]:
    """Flat patches a hair's breadth before the skin: (left, up, front, half width, half height)."""
    dark = tuple(0.35 * c for c in look.skin)
    shade = tuple(0.8 * c for c in look.skin)
    patches = [
        (0.0, -0.100, 0.0555, 0.014, 0.0035, LIPS),
        (0.0, -0.088, 0.0600, 0.008, 0.002, shade),
    ]
    for sign in (1, -1):
        patches += [
            (sign * 0.019, -0.060, 0.0535, 0.0085, 0.004, (225.0, 225.0, 228.0)),
            (sign * 0.0185, -0.060, 0.0542, 0.0035, 0.004, (30.0, 35.0, 45.0)),
            (sign * 0.019, -0.050, 0.0540, 0.0105, 0.0018, dark),
        ]
    skins = [_patch(vertex, axes, size, patch) for patch in patches]
    skins.append(_nose(vertex, axes, size, look))
    for sign in (1, -1):
        skins.append(_ear(vertex, axes, size, look, sign))
    return skins


def _patch(vertex: Floats, axes: tuple[Floats, ...], size: float, patch: tuple) -> Skin:  # type: ignore[type-arg]
    x, y, z, w, h, colour = patch
    left, up, front = axes
    # The face curves back to the sides.
    corners = [(-w, h), (w, h), (w, -h), (-w, -h)]
    points = [
        vertex
        + size * ((x + dx) * left + (y + dy) * up + (z + 0.0015 - 4.5 * ((x + dx) ** 2)) * front)
        for dx, dy in corners
    ]
    both_ways = np.array([[0, 1, 2, 3], [3, 2, 1, 0]])
    return Skin(np.stack(points, 1), both_ways, np.array([colour, colour]))


def _nose(vertex: Floats, axes: tuple[Floats, ...], size: float, look: Look) -> Skin:
    left, up, front = axes
    spots = [(0, -0.060, 0.0555), (0.010, -0.084, 0.055), (0, -0.080, 0.0675),
             (-0.010, -0.084, 0.055), (0, -0.085, 0.057)]  # fmt: skip
    points = [vertex + size * (x * left + y * up + z * front) for x, y, z in spots]
    faces = np.array([[0, 2, 1, 1], [0, 3, 2, 2], [1, 2, 4, 4], [2, 3, 4, 4]])
    faces = np.concatenate([faces, faces[:, ::-1]])
    return Skin(np.stack(points, 1), faces, np.tile(np.array(look.skin) * 0.97, (8, 1)))


def _ear(vertex: Floats, axes: tuple[Floats, ...], size: float, look: Look, sign: int) -> Skin:
    left, up, front = axes
    spots = [(0.045, -0.058, 0.004), (0.050, -0.060, -0.010), (0.047, -0.080, -0.006),
             (0.043, -0.084, 0.004)]  # fmt: skip
    points = [vertex + size * (sign * x * left + y * up + z * front) for x, y, z in spots]
    faces = np.array([[0, 1, 2, 3], [3, 2, 1, 0]])
    return Skin(np.stack(points, 1), faces, np.tile(np.array(look.skin) * 0.88, (2, 1)))


def _tail(centre: Floats, axes: tuple[Floats, ...], size: float, look: Look) -> Skin:
    left, up, front = axes
    drop = np.linspace(0, 1, 7)
    middles = (
        centre[:, None]
        + size * (0.02 - 0.10 * drop)[None, :, None] * up[:, None]
        - size * (0.054 + 0.02 * np.sin(np.pi * drop))[None, :, None] * front[:, None]
    )
    width = size * 0.018 * np.sqrt(np.clip(np.sin(np.pi * (0.1 + 0.87 * drop)), 0.02, 1))
    half = np.stack([width, 0.8 * width, 0.8 * width], -1)
    shape = middles.shape
    points = tube_points(
        middles, np.broadcast_to(left[:, None], shape), np.broadcast_to(front[:, None], shape),
        half_m=half, sides=8,
    )  # fmt: skip
    return Skin(points, ring_faces(7, 8), np.tile(np.array(look.hair), (48, 1)))
