"""Pictures of a motion: faces painted from far to near, averaged over the exposure."""

from __future__ import annotations

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
MARGIN_PX = 14
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


def draw_picture(shot: Shot, time_s: float) -> Bytes:
    """The picture whose exposure has its middle at a time, without sensor noise."""
    spread = (np.arange(shot.moments) + 0.5) / shot.moments - 0.5
    times = time_s + spread * shot.exposure_s
    joints = shot.motion.joints(times)
    skins = athlete_skins(joints, shot.motion.body, shot.look, seed=shot.seed)
    points, faces, colours = merged(skins)
    pixels, depth = shot.camera.project(points, times)
    shades = _shades(points, faces, shot.place)
    backdrop = _backdrop(shot, time_s)
    box = _box(pixels, shot, joints, times)
    if box is None:
        return _film(backdrop, shot.lens_blur_px)
    left, top, right, bottom = (OVER * edge for edge in box)
    patch = backdrop[top:bottom, left:right]
    light = shadow_light(joints, shot, times, box)
    patch = np.clip(patch * light[..., None], 0, 255).astype(np.uint8)
    total = np.zeros(patch.shape, np.float32)
    shift = np.array([left, top])
    for k in range(shot.moments):
        # Each moment is a little displaced, so that edges are smoothed as well.
        wobble = (np.array([(0.3 * k) % 1, (0.7 * k) % 1]) - 0.5) * 0.9
        spots = pixels[k] * OVER - 0.5 - shift
        total += cv2.LUT(
            paint_faces(patch.copy(), spots + wobble, depth[k], faces, colours * shades[k]),
            TO_LINEAR,
        )
    linear = total / shot.moments
    painted = FROM_LINEAR[np.clip(linear * 4096 + 0.5, 0, 4096).astype(np.uint16)]
    picture = backdrop.copy()
    picture[top:bottom, left:right] = painted
    return _film(picture, shot.lens_blur_px)


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


def _backdrop(shot: Shot, time_s: float) -> Bytes:
    if not shot.camera.shake_rad:
        return shot.backdrop
    scale = np.diag([OVER, OVER, 1.0])
    turn = scale @ shot.camera.picture_turn(time_s) @ np.linalg.inv(scale)
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    turn = np.linalg.inv(half) @ turn @ half
    size = shot.backdrop.shape[1], shot.backdrop.shape[0]
    return cv2.warpPerspective(
        shot.backdrop, turn, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT
    )


def _box(
    pixels: Floats, shot: Shot, joints: Joints, times: Floats
) -> tuple[int, int, int, int] | None:
    """Rectangle of film pixels around the athlete and her shadow (left, top, right, bottom)."""
    floor = np.stack([joints[f"{side}_{p}"] for side in ("left", "right") for p in ("toe", "heel")])
    floor = floor.transpose(1, 0, 2) * np.array([1, 0, 1])
    shadow = floor_shadow_m(joints, shot.place).reshape(times.size, -1, 3)
    under, _ = shot.camera.project(np.concatenate([floor, shadow], 1), times)
    every = np.concatenate([pixels.reshape(-1, 2), under.reshape(-1, 2)])
    low = np.floor(every.min(0)).astype(int) - MARGIN_PX
    high = np.ceil(every.max(0)).astype(int) + MARGIN_PX
    size = np.array([shot.camera.width_px, shot.camera.height_px])
    low, high = np.clip(low, 0, size), np.clip(high, 0, size)
    if (high - low).min() < 2:
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


