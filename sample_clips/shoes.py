"""Shoes and bare feet in two hinged parts, flat underneath."""

from __future__ import annotations

import numpy as np

from sample_clips.body import FOOT_BREADTH, Body
from sample_clips.curves import Floats
from sample_clips.look import Look
from sample_clips.skeleton import Joints
from sample_clips.tubes import Skin, ring_faces, unit

# Share from the hinge (behind: -1 heel to 0; ahead: 0 to 1 tip), half width and height, as
# fractions of the foot's breadth and of the ankle's height.
SHOE = np.array([
    (-1.0, .01, .5), (-.998, .34, .95), (-.97, .52, 1.25), (-.88, .62, 1.45), (-.72, .64, 1.45),
    (-.58, .66, 1.30),
    (-.44, .74, 1.05), (-.30, .84, .90), (-.15, .93, .76), (0.0, .96, .64), (.22, .93, .56),
    (.45, .85, .50), (.68, .70, .43), (.86, .50, .36), (.96, .28, .27), (.995, .12, .15),
    (1.0, .01, .1),
])  # fmt: skip
BARE = np.array([
    (-1.0, .01, .2), (-.998, .26, .35), (-.96, .46, .75), (-.88, .56, 1.0), (-.72, .56, 1.1),
    (-.58, .56, 1.05),
    (-.44, .64, .85), (-.30, .76, .68), (-.15, .90, .52), (0.0, .95, .42), (.22, .93, .36),
    (.45, .88, .32), (.68, .78, .28), (.86, .60, .24), (.96, .36, .2), (.995, .16, .1),
    (1.0, .01, .05),
])  # fmt: skip
# Points around a ring: share of the half width, share of the height; None marks the sole's edge.
AROUND = (
    (0.0, 0.0), (0.8, 0.0), (1.0, 0.06), (1.02, None), (0.97, 0.62), (0.72, 0.9), (0.0, 1.0),
    (-0.72, 0.9), (-0.97, 0.62), (-1.02, None), (-1.0, 0.06), (-0.8, 0.0),
)  # fmt: skip


def shoe_skin(joints: Joints, body: Body, look: Look, side: str) -> Skin:
    """The skin of one foot."""
    table = BARE if look.barefoot else SHOE
    rings, sides = len(table), len(AROUND)
    base, up, left = _ring_axes(joints, body, side, table[:, 0])
    half = table[:, 1] * FOOT_BREADTH * body.stature_m * (0.97 if look.barefoot else 1.0)
    height = table[:, 2] * body.ankle_above_m
    edge = min(body.sole_m * 0.9, 0.03) if body.sole_m > 0 else 0.008
    across = np.array([spot[0] for spot in AROUND])
    points = []
    for ring in range(rings):
        low = min(edge, 0.6 * height[ring])
        level = np.array([low if s is None else s * height[ring] for _, s in AROUND])
        points.append(
            base[:, ring, None]
            + (across * half[ring])[None, :, None] * left[:, None]
            + level[None, :, None] * up[:, ring, None]
        )
    skin = np.concatenate(points, 1)
    return Skin(skin, ring_faces(rings, sides), _colours(look, table, sides))


def _ring_axes(
    joints: Joints, body: Body, side: str, shares: Floats
) -> tuple[Floats, Floats, Floats]:
    rear, toes = joints[f"{side}_rear_axis"], joints[f"{side}_toes_axis"]
    rear_up, toes_up = joints[f"{side}_rear_up"], joints[f"{side}_toes_up"]
    ball = joints[f"{side}_ball"]
    base, up = [], []
    for share in shares:
        length = body.rear_foot_m if share < 0 else body.toes_m
        base.append(ball + share * length * (rear if share < 0 else toes))
        weight = np.clip((share + 0.2) / 0.4, 0, 1)
        up.append(unit((1 - weight) * rear_up + weight * toes_up))
    return np.stack(base, 1), np.stack(up, 1), np.cross(rear_up, rear)


def _colours(look: Look, table: Floats, sides: int) -> Floats:
    rings = len(table) - 1
    ring, around = np.divmod(np.arange(rings * sides), sides)
    if look.barefoot:
        colours = np.tile(np.array(look.skin), (rings * sides, 1))
        nails = (ring >= rings - 3) & (around >= 4) & (around <= 7)
        colours[nails] *= 1.12
        colours[(ring >= rings - 6) & (around % 2 == 0)] *= 0.9
        return colours
    colours = np.tile(np.array(look.shoe), (rings * sides, 1))
    sole = (around <= 2) | (around >= 9)
    colours[sole] = look.sole
    side_band = ((around == 3) | (around == 8)) & (ring >= 5) & (ring <= 8) & (ring % 2 == 0)
    colours[side_band] = look.shoe_accent
    laces = ((around == 5) | (around == 6)) & (ring >= 6) & (ring <= 9)
    colours[laces & (ring % 2 == 0)] = look.shoe_accent
    colours[(ring <= 2) & ~sole & (around >= 5) & (around <= 6)] = look.shoe_accent
    return colours
