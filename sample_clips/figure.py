"""The drawn athlete: skins around the joints of a motion."""

from __future__ import annotations

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import Floats
from sample_clips.head import head_skins
from sample_clips.look import Look
from sample_clips.shoes import shoe_skin
from sample_clips.skeleton import SIDES, Joints
from sample_clips.tubes import Skin, along_line, ring_faces, tube_points, unit

# Share along the line and half widths (side, front, back) as fractions of stature: chosen by eye.
LEG = np.array([
    (-0.10, .001, .001, .001), (-0.06, .028, .030, .036), (0.00, .044, .040, .050),
    (0.08, .049, .045, .054),
    (0.16, .050, .047, .052), (0.25, .049, .047, .049), (0.34, .047, .046, .046),
    (0.42, .045, .044, .043), (0.5, .043, .042, .041), (0.6, .040, .039, .038),
    (0.7, .036, .036, .035), (0.8, .033, .034, .032), (0.88, .032, .033, .030),
    (0.95, .032, .034, .028), (1.0, .031, .035, .028), (1.05, .030, .033, .029),
    (1.12, .029, .028, .033), (1.2, .031, .026, .038), (1.28, .032, .025, .041),
    (1.36, .031, .024, .040), (1.45, .029, .023, .036), (1.55, .025, .021, .031),
    (1.66, .021, .019, .025), (1.78, .018, .017, .021), (1.9, .017, .017, .021),
    (2.0, .019, .019, .021), (2.04, .014, .014, .016),
])  # fmt: skip
ARM = np.array([
    (-0.11, .001, .001, .001), (-0.09, .014, .016, .016), (-0.04, .023, .027, .027),
    (0.06, .027, .030, .030),
    (0.18, .027, .029, .029), (0.3, .026, .027, .027), (0.45, .0245, .0255, .0255),
    (0.6, .023, .024, .024), (0.8, .0215, .022, .022), (0.95, .021, .021, .022),
    (1.05, .022, .021, .022), (1.2, .023, .021, .021), (1.4, .021, .019, .019),
    (1.6, .018, .017, .017), (1.8, .0155, .014, .014), (1.97, .015, .012, .012),
    (2.1, .013, .018, .018), (2.3, .013, .023, .022), (2.55, .012, .023, .022),
    (2.75, .009, .019, .018), (2.95, .006, .013, .012), (3.0, .001, .002, .002),
])  # fmt: skip
TRUNK = np.array([
    (-0.15, .001, .001, .001), (-0.14, .020, .028, .032), (-0.10, .062, .044, .058),
    (-0.04, .086, .053, .066),
    (0.04, .093, .056, .068), (0.12, .092, .056, .064), (0.22, .084, .055, .056),
    (0.32, .077, .054, .050), (0.42, .075, .053, .049), (0.52, .079, .056, .052),
    (0.62, .085, .060, .056), (0.72, .091, .063, .060), (0.80, .096, .062, .062),
    (0.88, .101, .056, .060), (0.95, .106, .048, .054), (1.0, .100, .042, .050),
    (1.05, .075, .034, .044), (1.09, .045, .030, .038), (1.13, .030, .028, .032),
    (1.24, .028, .028, .030), (1.4, .027, .028, .030),
])  # fmt: skip
LEG_SIDES, ARM_SIDES, TRUNK_SIDES = 16, 12, 24


def athlete_skins(joints: Joints, body: Body, look: Look, *, seed: int) -> list[Skin]:
    """All skins of the athlete over the times of the joints."""
    rng = np.random.default_rng(seed)
    trunk_left = unit(joints["left_shoulder"] - joints["right_shoulder"])
    skins = [_trunk(joints, body, look, rng), *head_skins(joints, body, look)]
    for side in SIDES:
        skins.append(_leg(joints, body, look, side, rng))
        skins.append(shoe_skin(joints, body, look, side))
        nodes = [joints[f"{side}_{n}"] for n in ("shoulder", "elbow", "wrist", "fingertip")]
        centres, left, front = along_line(nodes, ARM[:, 0], left=trunk_left)
        half = ARM[:, 1:] * body.stature_m * body.girth
        points = tube_points(centres, left, front, half_m=half, sides=ARM_SIDES)
        faces = ring_faces(len(ARM), ARM_SIDES)
        skins.append(Skin(points, faces, _arm_colours(look, rng)))
    return skins


def _ring_shares(table: Floats, sides: int) -> tuple[Floats, Floats]:
    middle = (table[1:, 0] + table[:-1, 0]) / 2
    angle = 2 * np.pi * (np.arange(sides) + 1.0) / sides
    return np.repeat(middle, sides), np.tile(angle, len(middle))


def _speckled(colours: Floats, rng: np.random.Generator, size: float) -> Floats:
    return colours * (1 + rng.normal(0, size, (len(colours), 1)))


def _arm_colours(look: Look, rng: np.random.Generator) -> Floats:
    share, _ = _ring_shares(ARM, ARM_SIDES)
    covered = share < look.sleeve * 2
    colours = np.where(covered[:, None], look.shirt, look.skin)
    if look.sleeve > 0:
        cuff = covered & (share > look.sleeve * 2 - 0.12)
        colours[cuff] = look.shirt_accent
    return _speckled(colours, rng, 0.02)


def _leg(joints: Joints, body: Body, look: Look, side: str, rng: np.random.Generator) -> Skin:
    nodes = [joints[f"{side}_{name}"] for name in ("hip", "knee", "ankle")]
    hips = unit(joints["left_hip"] - joints["right_hip"])
    foot_left = np.cross(joints[f"{side}_rear_up"], joints[f"{side}_rear_axis"])
    centres, left, front = along_line(nodes, LEG[:, 0], left=unit(hips + foot_left))
    half = LEG[:, 1:] * body.stature_m * body.girth
    points = tube_points(centres, left, front, half_m=half, sides=LEG_SIDES)
    share, angle = _ring_shares(LEG, LEG_SIDES)
    colours = np.where((share < 2 * look.shorts_length)[:, None], look.shorts, look.skin)
    outward = np.cos(angle) * (1 if side == "left" else -1)
    stripe = (share < 2 * look.shorts_length) & (outward > 0.9)
    colours[stripe] = look.shirt_accent
    if not look.barefoot:
        colours[share > 2 - look.sock_height] = look.sock
    return Skin(points, ring_faces(len(LEG), LEG_SIDES), _speckled(colours, rng, 0.025))


def _trunk(joints: Joints, body: Body, look: Look, rng: np.random.Generator) -> Skin:
    hips = unit(joints["left_hip"] - joints["right_hip"])
    shoulders = unit(joints["left_shoulder"] - joints["right_shoulder"])
    low, high = joints["mid_hip"], joints["mid_shoulder"]
    up = unit(high - low)
    share = TRUNK[:, 0][None, :, None]
    centres = low[:, None] + share * (high - low)[:, None]
    # The back is a little curved: the waist lies ahead of the line, the chest on it.
    weight = np.clip(share, 0, 1)
    left = unit((1 - weight) * hips[:, None] + weight * shoulders[:, None])
    left = unit(left - np.sum(left * up[:, None], -1, keepdims=True) * up[:, None])
    front = np.cross(left, up[:, None])
    half = TRUNK[:, 1:] * body.stature_m * body.girth
    if body.sex == "female":
        half[3:7, 0] *= 1.04
        half[7:10, 0] *= 0.93
        half[11:14, 1] *= 1.12
        half[13:17, 0] *= 0.95
    points = tube_points(centres, left, front, half_m=half, sides=TRUNK_SIDES)
    return Skin(points, ring_faces(len(TRUNK), TRUNK_SIDES), _trunk_colours(look, rng))


def _trunk_colours(look: Look, rng: np.random.Generator) -> Floats:
    share, angle = _ring_shares(TRUNK, TRUNK_SIDES)
    colours = np.tile(np.array(look.shirt), (len(share), 1))
    accent = np.array(look.shirt_accent)
    if look.shirt_pattern == "rings":
        colours[(np.floor(share / 0.1) % 3 == 0)] = accent
    elif look.shirt_pattern == "sides":
        colours[np.abs(np.cos(angle)) > 0.85] = accent
    elif look.shirt_pattern == "blocks":
        colours[(share > 0.55) & (share < 0.85) & (np.abs(np.cos(angle)) < 0.45)] = accent
    elif look.shirt_pattern == "speckle":
        colours[rng.random(len(share)) < 0.3] = accent
    colours[share < 0.08] = look.shorts
    colours[share > 1.1] = look.skin
    return _speckled(colours, rng, 0.03)
