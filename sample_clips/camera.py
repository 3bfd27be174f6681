"""A pinhole camera, held still or in the hand (turning about its own eye)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sample_clips.curves import Floats


@dataclass(frozen=True)
class Camera:
    """Where the camera stands, where it aims, and how its hand shakes."""

    width_px: int
    height_px: int
    hfov_deg: float
    eye_m: tuple[float, float, float]
    target_m: tuple[float, float, float]
    roll_rad: float = 0.0
    shake_rad: float = 0.0
    seed: int = 0

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.width_px / 2 / math.tan(math.radians(self.hfov_deg) / 2)

    def axes(self) -> Floats:
        """Rows: right, down and forward in the world, without shake."""
        forward = np.subtract(self.target_m, self.eye_m)
        forward = forward / np.linalg.norm(forward)
        right = np.cross(forward, [0.0, 1.0, 0.0])
        right = right / np.linalg.norm(right)
        down = np.cross(forward, right)
        cosine, sine = math.cos(self.roll_rad), math.sin(self.roll_rad)
        return np.array([cosine * right + sine * down, cosine * down - sine * right, forward])

    def shake(self, time_s: Floats) -> Floats:
        """Small turns about right, down and forward at the times, (T, 3), rad."""
        rng = np.random.default_rng(self.seed)
        turn = np.zeros((time_s.size, 3))
        for rate_hz, size in ((0.4, 1.0), (1.1, 0.5), (2.7, 0.18), (7.0, 0.03)):
            phase = rng.uniform(0, 2 * math.pi, 3)
            rate = rate_hz * rng.uniform(0.8, 1.25, 3)
            turn = turn + size * np.sin(2 * math.pi * rate * time_s[:, None] + phase)
        return self.shake_rad * turn * np.array([1.0, 1.0, 0.5])

    def project(self, places_m: Floats, time_s: Floats) -> tuple[Floats, Floats]:
        """Edge-based pixels (T, N, 2) and depths (T, N) of places (T, N, 3)."""
        seen = (places_m - np.array(self.eye_m)) @ self.axes().T
        if self.shake_rad:
            seen = np.einsum("tij,tnj->tni", turns(self.shake(time_s)), seen)
        depth = seen[..., 2]
        centre = np.array([self.width_px / 2, self.height_px / 2])
        return seen[..., :2] / depth[..., None] * self.focal_px + centre, depth

    def picture_turn(self, time_s: float) -> Floats:
        """Homography from the unshaken picture to the one at a time."""
        intrinsic = np.array(
            [[self.focal_px, 0, self.width_px / 2], [0, self.focal_px, self.height_px / 2],
             [0, 0, 1]]
        )  # fmt: skip
        turn = turns(self.shake(np.array([time_s])))[0]
        map_: Floats = intrinsic @ turn @ np.linalg.inv(intrinsic)
        return map_


def turns(angles_rad: Floats) -> Floats:
    """Rotation matrices (T, 3, 3) of small turns, exactly orthogonal."""
    count = angles_rad.shape[0]
    size = np.linalg.norm(angles_rad, axis=1)[:, None, None]
    cross = np.zeros((count, 3, 3))
    x, y, z = angles_rad.T
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -z, y, -x
    cross = cross - cross.transpose(0, 2, 1)
    safe = np.maximum(size, 1e-12)
    return (
        np.eye(3) + np.sin(size) / safe * cross + (1 - np.cos(size)) / safe**2 * (cross @ cross)
    )
