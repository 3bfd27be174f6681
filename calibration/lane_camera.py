"""A pinhole camera beside a lane: lane points to pixels, and pixels back onto a vertical plane."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LaneView", "meet_plane", "project", "see_rays"]

Floats = NDArray[np.float64]
UNDISTORT_ROUNDS = 6


@dataclass(frozen=True, slots=True)
class LaneView:
    """What is known about a lane camera without fitting."""

    width_px: int
    height_px: int
    direction: int
    """1 where distances grow to the right of the picture, -1 to the left."""


def project(camera: Floats, view: LaneView, points_m: Floats) -> Floats:
    """Where lane points appear.

    Parameters
    ----------
    camera : ndarray of shape (8,)
        In the order of `calibration.lane_values.CAMERA_PARAMETERS`.
    view : LaneView
    points_m : ndarray of shape (..., 3)
        Distance along the lane, height above the ground, depth from the near row.

    Returns
    -------
    ndarray of shape (..., 2)
        Edge-based pixels of the upright picture.
    """
    focal_px, yaw, pitch, roll, height_m, station_m, distance_m, radial = camera
    seen_from = np.array([view.direction * station_m, height_m, -distance_m])
    right_up_away = points_m * np.array([view.direction, 1.0, 1.0]) - seen_from
    in_camera = right_up_away @ _camera_from_lane(yaw, pitch, roll).T
    tangent = in_camera[..., :2] / in_camera[..., 2:]
    bent = tangent * (1 + radial * np.sum(tangent**2, axis=-1, keepdims=True))
    return np.asarray(_centre(view) + focal_px * bent * [1.0, -1.0], dtype=np.float64)


def meet_plane(camera: Floats, view: LaneView, px: Floats, *, depth_m: float) -> Floats:
    """Follow the rays through pixels to the vertical plane along the lane at one depth.

    Returns
    -------
    ndarray of shape (..., 2)
        Distance along the lane and height above the ground, metres; NaN in, NaN out.
    """
    _, _, _, _, height_m, station_m, distance_m, _ = camera
    ray = see_rays(camera, view, px)
    along = (depth_m + distance_m) / ray[..., 2]
    distance = view.direction * along * ray[..., 0] + station_m
    return np.stack([distance, along * ray[..., 1] + height_m], axis=-1)


def see_rays(camera: Floats, view: LaneView, px: Floats) -> Floats:
    """Directions in which pixels look.

    Returns
    -------
    ndarray of shape (..., 3)
        To the right of the lane's view, up square to the ground, and away; of any length.
    """
    focal_px, yaw, pitch, roll, _, _, _, radial = camera
    bent = (px - _centre(view)) / focal_px * [1.0, -1.0]
    tangent = bent
    for _ in range(UNDISTORT_ROUNDS):
        tangent = bent / (1 + radial * np.sum(tangent**2, axis=-1, keepdims=True))
    ray = np.concatenate([tangent, np.ones_like(tangent[..., :1])], axis=-1)
    return np.asarray(ray @ _camera_from_lane(yaw, pitch, roll))


def _centre(view: LaneView) -> Floats:
    return np.array([view.width_px / 2, view.height_px / 2])


def _camera_from_lane(yaw: float, pitch: float, roll: float) -> Floats:
    """Rotation of right-up-away: yaw first, then pitch, then roll."""
    cos, sin = math.cos(yaw), math.sin(yaw)
    turn = np.array([[cos, 0, -sin], [0, 1, 0], [sin, 0, cos]])
    cos, sin = math.cos(pitch), math.sin(pitch)
    nod = np.array([[1, 0, 0], [0, cos, sin], [0, -sin, cos]])
    cos, sin = math.cos(roll), math.sin(roll)
    tilt = np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
    return np.asarray(tilt @ nod @ turn, dtype=np.float64)
