"""Pictures of a motion: faces painted from far to near, averaged over the exposure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_clips.camera import Camera
from sample_clips.curves import Floats
from sample_clips.figure import athlete_skins
from sample_clips.look import Look
from sample_clips.motion import Motion
from sample_clips.scene import OVER, Place
from sample_clips.shadows import shadow_light
from sample_clips.skeleton import Joints
from sample_clips.tubes import Skin

Bytes = NDArray[np.uint8]
SUB_BITS = 4
MARGIN_PX = 16
RIM_PX = 4
AT_ONCE = 20
GAMMA = 2.2
TO_LINEAR = (np.arange(256) / 255.0).astype(np.float32) ** GAMMA
FROM_LINEAR = np.round(255 * (np.arange(4097) / 4096) ** (1 / GAMMA)).astype(np.uint8)


@dataclass(frozen=True)
class Shot:
    """Everything that a picture is made of but the time."""

    motion: Motion
    look: Look
    camera: Camera
    place: Place
    backdrop: Bytes
    exposure_s: float
    moments: int = 5
    """Pictures that are averaged over the exposure."""
    lens_blur_px: float = 0.6
    seed: int = 0


def draw_pictures(shot: Shot, times_s: Floats) -> Iterator[Bytes]:
    """Pictures whose exposures have their middles at the times, without sensor noise."""
    still = None if shot.camera.shake_rad else _film(shot.backdrop, shot.lens_blur_px)
    spread = ((np.arange(shot.moments) + 0.5) / shot.moments - 0.5) * shot.exposure_s
    for start in range(0, times_s.size, AT_ONCE):
        middles = times_s[start : start + AT_ONCE]
        moments = (middles[:, None] + spread).ravel()
        solid = _solid(shot, moments)
        for number, time_s in enumerate(middles):
            part = slice(number * shot.moments, (number + 1) * shot.moments)
            yield _draw(shot, float(time_s), solid.cut(part), still)


def draw_picture(shot: Shot, time_s: float) -> Bytes:
    """One picture."""
    return next(draw_pictures(shot, np.array([time_s])))


@dataclass(frozen=True)
class _Solid:
    """The athlete at some moments, as she lies in the picture."""

    times_s: Floats
    joints: Joints
    pixels: Floats
    depth: Floats
    faces: NDArray[np.intp]
    tones: Floats

    def cut(self, part: slice) -> _Solid:
        joints = {name: place[part] for name, place in self.joints.items()}
        return _Solid(
            self.times_s[part], joints, self.pixels[part], self.depth[part], self.faces,
            self.tones[part],
        )  # fmt: skip


def _solid(shot: Shot, times_s: Floats) -> _Solid:
    joints = shot.motion.joints(times_s)
    skins = athlete_skins(joints, shot.motion.body, shot.look, seed=shot.seed)
    points, faces, colours = merged(skins)
    pixels, depth = shot.camera.project(points, times_s)
    tones = (colours * _shades(points, faces, shot.place)).astype(np.float32)
    return _Solid(times_s, joints, pixels, depth, faces, tones)


def _draw(shot: Shot, time_s: float, solid: _Solid, still: Bytes | None) -> Bytes:
    backdrop = shot.backdrop if still is not None else _turned_backdrop(shot, time_s)
    picture = still.copy() if still is not None else _film(backdrop, shot.lens_blur_px)
    box = _box(solid, shot)
    if box is None:
        return picture
    left, top, right, bottom = (OVER * edge for edge in box)
    patch = backdrop[top:bottom, left:right]
    light = shadow_light(solid.joints, shot, solid.times_s, box)
    patch = np.clip(patch * light[..., None], 0, 255).astype(np.uint8)
    painted = _film(_exposed(patch, solid, np.array([left, top])), shot.lens_blur_px)
    # The blur is wrong at the patch's rim, where it is the backdrop's anyway.
    rim = RIM_PX
    inner = painted[rim:-rim, rim:-rim]
    picture[box[1] + rim : box[3] - rim, box[0] + rim : box[2] - rim] = inner
    return picture


def _exposed(patch: Bytes, solid: _Solid, corner: Floats) -> Bytes:
    """Mean light over the moments on a patch of the backdrop."""
    total = np.zeros(patch.shape, np.float32)
    count = solid.times_s.size
    for k in range(count):
        # Each moment is a little displaced, so that edges are smoothed as well.
        wobble = (np.array([(0.3 * k) % 1, (0.7 * k) % 1]) - 0.4) * 0.9
        spots = solid.pixels[k] * OVER - 0.5 - corner + wobble
        painted = paint_faces(patch.copy(), spots, solid.depth[k], solid.faces, solid.tones[k])
        total += cv2.LUT(painted, TO_LINEAR)
    steps = (total * (4096 / count) + 0.5).astype(np.uint16)
    return FROM_LINEAR[np.minimum(steps, 4096)]


def merged(skins: list[Skin]) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Points, faces and colours of all skins as one."""
    starts = np.cumsum([0, *(skin.points_m.shape[1] for skin in skins[:-1])])
    return (
        np.concatenate([skin.points_m for skin in skins], 1),
        np.concatenate([skin.faces + start for skin, start in zip(skins, starts, strict=True)]),
        np.concatenate([skin.colours for skin in skins]),
    )


def _shades(points: Floats, faces: NDArray[np.intp], place: Place) -> Floats:
    """How light each face is, (T, F, 1)."""
    corner = points[:, faces]
    normal = np.cross(corner[:, :, 2] - corner[:, :, 0], corner[:, :, 3] - corner[:, :, 1])
    normal = normal / (np.linalg.norm(normal, axis=-1, keepdims=True) + 1e-12)
    sun = np.clip(normal @ np.array(place.light), 0, 1)
    sky = 0.85 + 0.15 * normal[..., 1]
    shade = place.ambient * sky + (1.15 - place.ambient) * sun
    return place.brightness * shade[..., None]


def paint_faces(
    canvas: Bytes, spots_px: Floats, depth: Floats, faces: NDArray[np.intp], colours: Floats
) -> Bytes:
    """Paint the faces that look this way, far ones first, onto the canvas.

    Parameters
    ----------
    spots_px : ndarray of shape (P, 2)
        Where the points are, in pixels of the canvas counted from the first pixel's centre.
    """
    corner = spots_px[faces]
    one, two = corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1]
    towards = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    seen = np.flatnonzero(towards < 0)
    order = seen[np.argsort(-depth[faces[seen]].mean(1))]
    polygons = np.round(corner[order] * (1 << SUB_BITS)).astype(np.int32)
    tones = np.clip(colours[order], 0, 255).tolist()
    for polygon, tone in zip(polygons, tones, strict=True):
        cv2.fillConvexPoly(canvas, polygon, tone, 8, SUB_BITS)
    return canvas


def _turned_backdrop(shot: Shot, time_s: float) -> Bytes:
    scale = np.diag([OVER, OVER, 1.0])
    turn = scale @ shot.camera.picture_turn(time_s) @ np.linalg.inv(scale)
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    turn = np.linalg.inv(half) @ turn @ half
    size = shot.backdrop.shape[1], shot.backdrop.shape[0]
    return cv2.warpPerspective(
        shot.backdrop, turn, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )


def _box(solid: _Solid, shot: Shot) -> tuple[int, int, int, int] | None:
    """Rectangle of film pixels around the athlete and her shadow (left, top, right, bottom)."""
    joints, times = solid.joints, solid.times_s
    floor = np.stack([joints[f"{side}_{p}"] for side in ("left", "right") for p in ("toe", "heel")])
    floor = floor.transpose(1, 0, 2) * np.array([1, 0, 1])
    shadow = floor_shadow_m(joints, shot.place).reshape(times.size, -1, 3)
    under, _ = shot.camera.project(np.concatenate([floor, shadow], 1), times)
    every = np.concatenate([solid.pixels.reshape(-1, 2), under.reshape(-1, 2)])
    low = np.floor(every.min(0)).astype(int) - MARGIN_PX
    high = np.ceil(every.max(0)).astype(int) + MARGIN_PX
    size = np.array([shot.camera.width_px, shot.camera.height_px])
    low, high = np.clip(low, 0, size), np.clip(high, 0, size)
    if (high - low).min() <= 2 * RIM_PX:
        return None
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def floor_shadow_m(joints: Joints, place: Place) -> Floats:
    """Where the shadows of head and hands fall on the ground, (T, 3, 3)."""
    spots = np.stack([joints[n] for n in ("vertex", "left_wrist", "right_wrist")], 1)
    light = np.array(place.light)
    return spots - spots[..., 1:2] / light[1] * light


def _film(picture: Bytes, blur_px: float) -> Bytes:
    size = picture.shape[1] // OVER, picture.shape[0] // OVER
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(small, (0, 0), blur_px) if blur_px > 0 else small


