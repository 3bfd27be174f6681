"""Tiles of ground and walls: noise and patterns that repeat without a seam, blue-green-red."""

from __future__ import annotations

import cv2
import numpy as np

from sample_clips.curves import Floats

TILE_PX = 1024
TILE_M = 4.0
GROUNDS = ("grass", "planks", "carpet", "concrete", "rubber", "asphalt")
WALLS = ("brick", "plaster", "hedge", "fence", "blocks", "shutter")


def cloud(rng: np.random.Generator, size_px: float, stretch: float = 1.0) -> Floats:
    """Smooth noise of mean 0 and deviation 1 that wraps round, (TILE_PX, TILE_PX)."""
    rows = np.fft.fftfreq(TILE_PX)[:, None] * stretch
    columns = np.fft.fftfreq(TILE_PX)[None, :]
    gain = np.exp(-((rows**2 + columns**2) * (2 * np.pi * size_px) ** 2) / 2)
    noise = np.fft.ifft2(np.fft.fft2(rng.normal(size=(TILE_PX, TILE_PX))) * gain).real
    noise_: Floats = (noise - noise.mean()) / noise.std()
    return noise_


def _coloured(colour: tuple[float, float, float], light: Floats) -> Floats:
    return np.clip(np.array(colour) * light[..., None], 0, 255)


def ground_tile(kind: str, rng: np.random.Generator) -> Floats:
    """A tile of ground seen from above."""
    fine, middle, broad = cloud(rng, 0.6), cloud(rng, 4), cloud(rng, 60)
    if kind == "grass":
        blades = cloud(rng, 1.0, stretch=3.0)
        light = 1 + 0.22 * blades + 0.10 * fine + 0.12 * middle + 0.10 * broad
        tile = _coloured((45, 105, 82), light)
        return np.clip(tile + 14 * cloud(rng, 9)[..., None] * np.array([0.2, 0.4, 1.0]), 0, 255)
    if kind == "planks":
        return _planks(rng, (95, 145, 190), 0.12 * TILE_PX / TILE_M, fine)
    if kind == "carpet":
        colour = [(110, 105, 95), (120, 85, 60), (70, 70, 110)][int(rng.integers(3))]
        return _coloured(colour, 1 + 0.16 * fine + 0.05 * middle + 0.04 * broad)
    if kind == "concrete":
        return _coloured((160, 165, 168), 1 + 0.04 * fine + 0.05 * middle + 0.07 * broad)
    if kind == "rubber":
        tile = _coloured((62, 62, 64), 1 + 0.10 * fine + 0.04 * broad)
        tile[rng.random(tile.shape[:2]) < 0.012] = (170, 150, 120)
        tile[::256] = tile[:, ::256] = (30, 30, 32)
        return tile
    return _coloured((95, 95, 98), 1 + 0.20 * fine + 0.08 * middle + 0.06 * broad)


def _planks(
    rng: np.random.Generator, colour: tuple[float, float, float], width_px: float, fine: Floats
) -> Floats:
    count = round(TILE_PX / width_px)
    row = (np.arange(TILE_PX) * count // TILE_PX)[:, None]
    start = rng.integers(0, TILE_PX, count)[row]
    board = ((np.arange(TILE_PX)[None, :] + start) % TILE_PX) // 380
    tone = rng.normal(1, 0.08, (count, 4))[row, board]
    grain = cloud(rng, 1.2, stretch=0.12)
    light = tone * (1 + 0.05 * grain + 0.02 * fine)
    seam = np.diff(row[:, 0], prepend=row[0, 0]) != 0
    light[seam] *= 0.6
    light[np.diff(board, axis=1, prepend=board[:, :1]) != 0] *= 0.65
    return _coloured(colour, light)


def wall_tile(kind: str, rng: np.random.Generator) -> Floats:
    """A tile of wall; row 0 is the top."""
    fine, middle, broad = cloud(rng, 0.8), cloud(rng, 5), cloud(rng, 70)
    if kind == "brick":
        return _bricks(rng, (70, 90, 150), (32, 85), fine)
    if kind == "blocks":
        return _bricks(rng, (150, 158, 165), (64, 128), fine)
    if kind == "hedge":
        leaves = cloud(rng, 2.5) + 0.7 * cloud(rng, 6) + 0.5 * cloud(rng, 20)
        return _coloured((38, 82, 58), np.clip(1 + 0.35 * leaves, 0.2, 2.2))
    if kind == "fence":
        tile = _planks(rng, (70, 105, 140), 0.14 * TILE_PX / TILE_M, fine)
        return np.ascontiguousarray(tile.transpose(1, 0, 2))
    if kind == "shutter":
        slat = 0.85 + 0.25 * (np.arange(TILE_PX) % 32 / 32)[:, None]
        return _coloured((190, 192, 195), slat * (1 + 0.015 * fine + 0.03 * broad))
    return _coloured((200, 208, 212), 1 + 0.012 * fine + 0.02 * middle + 0.05 * broad)


def _bricks(
    rng: np.random.Generator,
    colour: tuple[float, float, float],
    size_px: tuple[int, int],
    fine: Floats,
) -> Floats:
    tall, wide = size_px
    wide = TILE_PX // (TILE_PX // wide)
    row = np.arange(TILE_PX)[:, None] // tall
    shifted = np.arange(TILE_PX)[None, :] + (row % 2) * wide // 2
    column = shifted // wide % (TILE_PX // wide)
    tone = rng.normal(1, 0.13, (TILE_PX // tall + 1, TILE_PX // wide + 1))[row, column]
    light = tone * (1 + 0.07 * fine)
    tile = _coloured(colour, light)
    mortar = (np.arange(TILE_PX)[:, None] % tall < 3) | (shifted % wide < 3)
    tile[mortar] = np.array([165, 172, 176]) * (1 + 0.05 * fine[mortar])[:, None]
    return np.clip(tile, 0, 255)


def sample_tile(tile: Floats, x_m: Floats, y_m: Floats) -> Floats:
    """Colours at places of the repeated tile, (..., 3)."""
    scale = TILE_PX / TILE_M
    u = np.mod(x_m * scale, TILE_PX).astype(np.float32)
    v = np.mod(y_m * scale, TILE_PX).astype(np.float32)
    return cv2.remap(
        tile.astype(np.float32), u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
    )
