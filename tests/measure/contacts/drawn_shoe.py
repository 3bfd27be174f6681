"""A textured shoe over textured ground, drawn at known shifts and turns, and ideal patch paths."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

from measure.contacts.background import Background
from measure.contacts.event import TAKE_OFF
from measure.contacts.follow import PatchPath
from measure.contacts.patch import Patch
from measure.contacts.plan import EventKind, EventPlan
from measure.contacts.trace import EventPictures, Trace
from measure.types import Floats, Foot

Picture = NDArray[np.float32]

SHAPE = (150, 190)
PX_PER_M = 240.0
TOE_TIP = (120.0, 110.0)
"""Column and row of the lowest front corner of the standing shoe, which points to the right."""
SHOE_LONG_PX, SHOE_HIGH_PX = 62, 20
SPEED_MPS = 2.4
"""Of a body that flies for 0.49 s."""
RATE_HZ = 120.0
INSTANT_S = 0.003


def textured(seed: int, *, level: float, contrast: float) -> Picture:
    """A picture of smooth random grain, shape (H, W, 3)."""
    grain = gaussian_filter(np.random.default_rng(seed).normal(size=(*SHAPE, 3)), (1.5, 1.5, 0))
    return (level + contrast * grain / grain.std()).astype(np.float32)


GROUND = textured(1, level=110, contrast=12)
_SHOE = textured(2, level=185, contrast=25)


def shoe_at(
    shift_px: tuple[float, float] = (0.0, 0.0), *, turn_rad: float = 0.0, noise: float = 0.0,
    rng: np.random.Generator | None = None,
) -> Picture:  # fmt: skip
    """Draw the shoe and its leg over the ground, turned clockwise about its middle and shifted."""
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]].astype(float)
    x, y = columns - shift_px[0] - CENTRE[0], rows - shift_px[1] - CENTRE[1]
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    from_x, from_y = cos * x + sin * y + CENTRE[0], -sin * x + cos * y + CENTRE[1]
    cover = _inside(from_x, from_y)
    places = np.stack([from_y, from_x])
    shoe = np.stack(
        [map_coordinates(_SHOE[..., k], places, order=3, mode="nearest") for k in range(3)], axis=-1
    )
    picture = cover[..., None] * shoe + (1 - cover[..., None]) * GROUND
    if noise:
        picture = picture + (rng or np.random.default_rng(0)).normal(0, noise, picture.shape)
    return picture.astype(np.float32)


CENTRE = (TOE_TIP[0] - SHOE_LONG_PX / 2, TOE_TIP[1] - SHOE_HIGH_PX / 2)


def _inside(x: Floats, y: Floats) -> Floats:
    """Share of each pixel that is shoe or leg, 0 to 1, soft by a pixel at the edge."""
    left, right = TOE_TIP[0] - SHOE_LONG_PX, TOE_TIP[0]
    bottom = TOE_TIP[1]
    ahead = np.clip((x - (right - 25)) / 25, 0, 1)
    top = bottom - SHOE_HIGH_PX * (1 - 0.4 * ahead**2)
    shoe = _edge(x - left) * _edge(right - x) * _edge(y - top) * _edge(bottom - y)
    leg = _edge(x - left) * _edge(left + 18 - x) * _edge(bottom - SHOE_HIGH_PX + 4 - y)
    return np.maximum(shoe, leg)


def _edge(inwards_px: Floats) -> Floats:
    return np.clip(inwards_px + 0.5, 0.0, 1.0)


def rise_m(
    time_s: Floats, instant_s: float, *, kind: EventKind, speed_mps: float = SPEED_MPS,
    lag_s: float = TAKE_OFF.lag_s,
) -> Floats:  # fmt: skip
    """Height of a rigid foot that leaves (or meets) the floor at an instant."""
    free_s = np.maximum((time_s - instant_s) * (1 if kind == "take_off" else -1), 0)
    gathered_s = free_s
    if kind == "take_off":
        gathered_s = free_s - lag_s * (1 - np.exp(-free_s / lag_s))
    return speed_mps * gathered_s - 4.9 * free_s**2


def event_pictures(kind: EventKind, *, pose_error_px: float = 0.0) -> EventPictures:
    """All pictures of the shoe leaving (or meeting) the floor at ``INSTANT_S``, a little noisy."""
    time_s = np.arange(-13, 14) / RATE_HZ
    away = time_s if kind == "take_off" else -time_s
    up_px = rise_m(time_s, INSTANT_S, kind=kind) * PX_PER_M
    side_px = 0.1 * up_px
    rng = np.random.default_rng(2)
    pictures = np.stack([
        shoe_at((x, -y), noise=2.0, rng=rng) for x, y in zip(side_px, up_px, strict=True)
    ])  # fmt: skip
    moved = np.stack([side_px, -up_px], axis=1) + rng.normal(0, pose_error_px, (time_s.size, 2))
    return EventPictures(
        pictures=pictures, time_s=time_s,
        background=Background(GROUND, np.ones(SHAPE, dtype=bool)),
        reference_row=int(np.argmin(np.abs(away + 0.055))),
        toe_px=np.array([TOE_TIP[0] - 6, TOE_TIP[1] - 3]) + moved,
        heel_px=np.array([TOE_TIP[0] - SHOE_LONG_PX + 6, TOE_TIP[1] - 4]) + moved,
        px_per_m=PX_PER_M,
    )  # fmt: skip


def patch_trace(
    kind: EventKind, instant_s: float, rate_hz: float, rng: np.random.Generator, *,
    noise_m: float = 0.0008, speed_mps: float = SPEED_MPS,
) -> Trace:  # fmt: skip
    """The way of a rigid patch near an event at a random phase of the frames, with noise."""
    reach_s = max(0.11, 3.2 / rate_hz)
    time_s = np.arange(-reach_s, reach_s, 1 / rate_hz) + rng.uniform(0, 1 / rate_hz)
    up_m = rise_m(time_s, instant_s, kind=kind, speed_mps=speed_mps)
    noise = rng.normal(0, noise_m, (time_s.size, 2))
    shift = np.stack([noise[:, 0], -(up_m + noise[:, 1])], axis=1) * PX_PER_M
    stands_s = instant_s + (-0.055 if kind == "take_off" else 0.055)
    reference = int(np.argmin(np.abs(time_s - stands_s)))
    sole = np.array([[x, 10.0] for x in range(-8, 9)])
    patch = Patch(
        points=sole, colours=np.zeros((17, 3)), opacity=np.ones((17, 1)),
        shoe_slopes=np.zeros((17, 3, 2)), opacity_slopes=np.zeros((17, 2)), centre=np.zeros(2),
        sole=sole, mask=np.ones((9, 9), dtype=bool),
    )  # fmt: skip
    path = PatchPath(time_s, shift, np.zeros(time_s.size), np.ones(time_s.size), reference)
    return Trace(patch, path, "toe", 0)


def plan_of(
    kind: EventKind, *, foot: Foot = "left", coarse_s: float = 0.02, flight: int | None = 0,
    speed_mps: float = SPEED_MPS,
) -> EventPlan:  # fmt: skip
    """A plan whose pictures are of no matter."""
    nothing = np.empty(0, dtype=np.int64)
    return EventPlan(kind, foot, flight, coarse_s, speed_mps, nothing, 0, nothing, (0, 0, 9, 9))
