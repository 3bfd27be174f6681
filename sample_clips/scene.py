"""The place: ground, a wall or hedge behind, lines, posters and boxes, and the light."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sample_clips.camera import Camera
from sample_clips.curves import Floats
from sample_clips.textures import GROUNDS, WALLS, ground_tile, sample_tile, wall_tile

OUTSIDE = {"grass", "asphalt", "concrete"}
OVER = 2
"""The place is drawn finer than the film by this factor."""


@dataclass(frozen=True)
class Place:
    """What is around the athlete."""

    ground: str
    wall: str
    wall_away_m: float
    wall_turn_rad: float
    wall_height_m: float
    lines: bool
    light: tuple[float, float, float]
    """From where the light comes, in the world; length 1."""
    ambient: float
    shadow: float
    shadow_blur_px: float
    brightness: float
    seed: int


def draw_place(rng: np.random.Generator, *, ground: str | None = None) -> Place:
    """Pick a place at random."""
    ground = ground or str(rng.choice(GROUNDS))
    outside = ground in OUTSIDE
    walls = ("brick", "hedge", "fence", "shutter") if outside else ("plaster", "brick", "blocks")
    assert set(walls) <= set(WALLS)
    turn, height = rng.uniform(0, 2 * math.pi), rng.uniform(0.9, 2.0)
    light = np.array([math.cos(turn), height, math.sin(turn)])
    sunny = outside and rng.random() < 0.6
    x, y, z = light / np.linalg.norm(light)
    return Place(
        ground=ground, wall=str(rng.choice(walls)), wall_away_m=float(rng.uniform(1.6, 5.0)),
        wall_turn_rad=float(rng.normal(0, 0.15)),
        wall_height_m=float(rng.uniform(1.6, 2.6)) if outside else 9.0,
        lines=ground in {"planks", "rubber"} and rng.random() < 0.7,
        light=(float(x), float(y), float(z)),
        ambient=float(rng.uniform(0.45, 0.6) if sunny else rng.uniform(0.62, 0.8)),
        shadow=float(rng.uniform(0.45, 0.6) if sunny else rng.uniform(0.12, 0.3)),
        shadow_blur_px=float(rng.uniform(1.0, 2.5) if sunny else rng.uniform(6, 14)),
        brightness=float(rng.uniform(0.85, 1.1) if outside else rng.uniform(0.65, 1.05)),
        seed=int(rng.integers(1 << 30)),
    )  # fmt: skip


def draw_backdrop(place: Place, camera: Camera, *, middle_m: Floats) -> NDArray[np.uint8]:
    """Draw the empty place, (height, width, 3) at `OVER` times the film's size, 0 to 255.

    Parameters
    ----------
    middle_m : ndarray of shape (3,)
        Where the athlete is; the wall stands behind it, seen from the camera.
    """
    rng = np.random.default_rng(place.seed)
    rays = _rays(camera)
    eye = np.array(camera.eye_m, np.float32)
    with np.errstate(divide="ignore", invalid="ignore"):
        to_ground = np.where(rays[..., 1] < 0, -eye[1] / rays[..., 1], np.inf)
        normal, origin, along = (v.astype(np.float32) for v in _wall(place, camera, middle_m))
        facing = rays @ normal
        to_wall = np.where(facing > 1e-6, (origin - eye) @ normal / facing, np.inf)
    on_ground = to_ground < to_wall
    hit = eye + np.where(on_ground, to_ground, np.minimum(to_wall, 200))[..., None] * rays
    across, level = (hit - origin) @ along, hit[..., 1]
    picture = _sky(rays, rng)
    wall = sample_tile(wall_tile(place.wall, rng), across, -level)
    if place.wall in {"plaster", "blocks"}:
        _posters(wall, across, level, rng)
    is_wall = ~on_ground & (level < place.wall_height_m) & np.isfinite(to_wall)
    picture[is_wall] = wall[is_wall]
    ground = sample_tile(ground_tile(place.ground, rng), hit[..., 0], hit[..., 2])
    if place.lines:
        _lines(ground, hit, rng)
    picture[on_ground] = ground[on_ground]
    away = np.abs((hit - origin) @ normal)
    corner = 1 - 0.35 * np.exp(-np.where(on_ground, away, level) / 0.12)
    shade = np.where(on_ground | is_wall, corner, 1.0)
    return _lit(picture * shade[..., None], place, rng)


def draw_box(
    picture: NDArray[np.uint8], camera: Camera, *, low_m: Floats, high_m: Floats, place: Place
) -> NDArray[np.uint8]:
    """Paint a wooden box, given by two opposite corners, onto a backdrop."""
    spots = np.array([[(low_m, high_m)[(k >> a) & 1][a] for a in range(3)] for k in range(8)])
    faces = np.array([(0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5), (0, 2, 3, 1),
                      (4, 5, 7, 6)])  # fmt: skip
    pixels, _ = camera.project(spots[None], np.zeros(1))
    middle = (low_m + high_m) / 2
    for face in faces:
        centre = spots[face].mean(0)
        normal = centre - middle
        if (np.array(camera.eye_m) - centre) @ normal <= 0:
            continue
        normal = normal / np.linalg.norm(normal)
        sun = max(float(normal @ np.array(place.light)), 0.0)
        light = place.brightness * (place.ambient + (1.1 - place.ambient) * sun)
        tone = [min(255.0, channel * light) for channel in (95.0, 140.0, 175.0)]
        corners = np.round((pixels[0, face] * OVER - 0.5) * 16).astype(np.int32)
        cv2.fillConvexPoly(picture, corners, tone, cv2.LINE_AA, 4)
        cv2.polylines(picture, [corners], True, [0.6 * c for c in tone], 2, cv2.LINE_AA, 4)
    return picture


def _rays(camera: Camera) -> Floats:
    width, height = camera.width_px * OVER, camera.height_px * OVER
    u = ((np.arange(width) + 0.5) / OVER - camera.width_px / 2) / camera.focal_px
    v = ((np.arange(height) + 0.5) / OVER - camera.height_px / 2) / camera.focal_px
    seen = np.stack([*np.broadcast_arrays(u[None, :], v[:, None], 1.0)], -1).astype(np.float32)
    rays: Floats = seen @ camera.axes().astype(np.float32)
    return rays


def _wall(place: Place, camera: Camera, middle_m: Floats) -> tuple[Floats, Floats, Floats]:
    line = (middle_m - np.array(camera.eye_m)) * np.array([1, 0, 1])
    line = line / np.linalg.norm(line)
    origin = middle_m * np.array([1, 0, 1]) + place.wall_away_m * line
    cosine, sine = math.cos(place.wall_turn_rad), math.sin(place.wall_turn_rad)
    normal = np.array([cosine * line[0] + sine * line[2], 0, cosine * line[2] - sine * line[0]])
    return normal, origin, np.array([-normal[2], 0.0, normal[0]])


def _sky(rays: Floats, rng: np.random.Generator) -> Floats:
    colour = np.array([(235, 215, 190), (225, 225, 228)][int(rng.integers(2))], np.float32)
    light = np.clip(1.0 - 0.5 * np.clip(rays[..., 1], 0, 1), 0.4, 1)
    return colour * light[..., None]


def _posters(wall: Floats, across: Floats, level: Floats, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(2, 6))):
        x, y = rng.uniform(-4, 4), rng.uniform(0.8, 2.2)
        w, h = rng.uniform(0.2, 0.7), rng.uniform(0.2, 0.6)
        inside = (np.abs(across - x) < w) & (np.abs(level - y) < h)
        wall[inside] = rng.uniform(40, 220, 3)
        for row in np.linspace(-0.6, 0.6, 4):
            bar = inside & (np.abs(level - y - row * h) < 0.05 * h)
            bar &= across - x < rng.uniform(0, w)
            wall[bar] = rng.uniform(40, 220, 3)
    skirting = level < 0.1
    wall[skirting] *= 0.55


def _lines(ground: Floats, hit: Floats, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(1, 4))):
        turn, shift = rng.choice([0.0, math.pi / 2, rng.uniform(0, 3)]), rng.uniform(-1.5, 1.5)
        off = hit[..., 0] * math.cos(turn) + hit[..., 2] * math.sin(turn) - shift
        stripe = np.abs(off) < 0.025
        colour = np.array([(220, 220, 220), (60, 60, 190), (180, 90, 40), (60, 190, 210)])
        ground[stripe] = 0.85 * colour[int(rng.integers(4))] + 0.15 * ground[stripe]


def _lit(picture: Floats, place: Place, rng: np.random.Generator) -> NDArray[np.uint8]:
    height, width = picture.shape[:2]
    coarse = rng.normal(1, 0.08, (4, 6)).astype(np.float32)
    patchy = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    y, x = np.mgrid[0:height, 0:width]
    off = ((x / width - 0.5) ** 2 + (y / height - 0.5) ** 2).astype(np.float32)
    light = place.brightness * patchy * (1 - 0.25 * off)
    return np.clip(picture * light[..., None], 0, 255).astype(np.uint8)
