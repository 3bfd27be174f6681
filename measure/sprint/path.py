"""The way of the hip centre along the lane, from a runner's pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.lane_place import place_on_lane
from calibration.lane_values import Lane
from measure.types import Landmark

__all__ = ["HipPath", "read_hip_path"]

Floats = NDArray[np.float64]

AHEAD_PER_TRUNK = 0.05
"""The model's hips lie this share of the trunk's length ahead of the joint centres in profile
(about 2.5 cm); learned on drawn figures, so its doubt is carried in `CrossingSettings`."""
SHOULDERS_PER_TRUNK = 0.72
"""Width of the shoulders seen from the front over shoulder to hip length: 0.36 m over 0.50 m."""
MOST_PROFILE = 0.7
"""Above this the nose is ahead of the hips because the body runs along the lane."""
STEADY_S = 0.35
"""Facing does not change faster than this."""
OUTLIER_M = 0.35
WANDER_S, WAY_DEGREE = 0.7, 3
"""Before and after a moment, and the power to which a smooth way bends in that time."""
STEP_HALF_S = 0.1
"""Over a step the noise of single poses is averaged away, and what they share is left."""
FEWEST_FOR_WANDER, LEAST_WANDER_M = 12, 0.003


@dataclass(frozen=True, slots=True)
class HipPath:
    """Hip centre along the lane."""

    time_s: Floats
    """Shape (T,), increasing."""
    distance_m: Floats
    """Shape (T,)."""
    height_m: Floats
    """Above the ground, shape (T,)."""
    profile: Floats
    """1 where the body is seen from the side, 0 facing the camera or away from it, shape (T,)."""
    trunk_m: float
    """Shoulder to hip length."""
    to_camera: Floats | None = None
    """1 where the body faces the camera, -1 where it turns its back to it, shape (T,)."""

    def seen_share(self, from_s: float, until_s: float) -> float:
        """Share of the usual poses that were read between two moments.

        One longer gap, as somebody in front makes it, is not counted.
        """
        near_s = self.time_s[(self.time_s > from_s) & (self.time_s < until_s)]
        if near_s.size < 3:
            return 0.0
        usual_s = float(np.quantile(np.diff(self.time_s), 0.25))
        without_s = float(np.ptp(near_s) - np.diff(near_s).max())
        return min(1.0, (near_s.size - 2) * usual_s / without_s)

    def wander_m(self, at_s: float) -> float:
        """How far the hips stray from a smooth way over some steps about a moment.

        Noise of single poses is left out: it averages away, and this does not.
        """
        near = np.abs(self.time_s - at_s) < WANDER_S
        time_s, distance_m = self.time_s[near] - at_s, self.distance_m[near]
        if time_s.size < FEWEST_FOR_WANDER:
            return LEAST_WANDER_M
        left_m = distance_m - np.polyval(np.polyfit(time_s, distance_m, WAY_DEGREE), time_s)
        steps_m = [left_m[np.abs(time_s - each_s) < STEP_HALF_S].mean() for each_s in time_s]
        return max(LEAST_WANDER_M, float(np.sqrt(np.mean(np.square(steps_m)))))


def read_hip_path(time_s: Floats, lane_px: Floats, lane: Lane) -> HipPath:
    """Put the hips of a pose track on the lane.

    Parameters
    ----------
    time_s : ndarray of shape (T,)
        Real seconds.
    lane_px : ndarray of shape (T, 33, 2)
        Points in the picture in which the lane was marked.
    lane : Lane

    Returns
    -------
    HipPath
        Poses that jump away from their neighbours are left out.

    Notes
    -----
    *Wrong* by the model's own habit: its hips sit ahead of the joints, by an amount that differs
    by about a centimetre from person to person.
    """
    places = place_on_lane(lane, lane_px)
    hips = _middle(places.distance_m, Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    hip_height = _middle(places.height_m, Landmark.LEFT_HIP, Landmark.RIGHT_HIP)
    shoulders = _middle(places.distance_m, Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    shoulder_height = _middle(places.height_m, Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER)
    trunk_m = float(np.median(np.hypot(shoulders - hips, shoulder_height - hip_height)))
    profile = _profile(time_s, places.distance_m, trunk_m)
    facing = _facing(time_s, places.distance_m)
    outward = _outward(lane, hips)
    to_camera = _to_camera(time_s, places.distance_m[:, Landmark.NOSE] - hips, outward, profile)
    distance = hips - AHEAD_PER_TRUNK * trunk_m * (profile * facing + to_camera * outward)
    good = _in_line(time_s, distance)
    return HipPath(
        time_s[good], distance[good], hip_height[good], profile[good], trunk_m, to_camera[good]
    )


def _middle(values: Floats, left: Landmark, right: Landmark) -> Floats:
    return np.asarray((values[:, left] + values[:, right]) / 2)


def _profile(time_s: Floats, distance_m: Floats, trunk_m: float) -> Floats:
    """How much the body is seen from the side: from the width of the shoulders in the picture."""
    width = distance_m[:, Landmark.LEFT_SHOULDER] - distance_m[:, Landmark.RIGHT_SHOULDER]
    share = np.abs(_steady(time_s, width)) / (SHOULDERS_PER_TRUNK * trunk_m)
    return np.asarray(np.sqrt(1 - np.clip(share, 0, 1) ** 2))


def _facing(time_s: Floats, distance_m: Floats) -> Floats:
    """1 where nose and toes point to greater distances, -1 where to smaller."""
    nose = distance_m[:, Landmark.NOSE] - _middle(distance_m, Landmark.LEFT_EAR, Landmark.RIGHT_EAR)
    toes = _middle(distance_m, Landmark.LEFT_TOE, Landmark.RIGHT_TOE)
    heels = _middle(distance_m, Landmark.LEFT_HEEL, Landmark.RIGHT_HEEL)
    return np.sign(_steady(time_s, nose + toes - heels))


def _outward(lane: Lane, distance_m: Floats) -> Floats:
    """How far along the lane something is seen that is so much nearer to the phone; a share."""
    _, _, _, _, _, station_m, away_m, _ = lane.camera
    return np.asarray((distance_m - station_m) / (away_m + lane.survey.athlete_offset_m))


def _to_camera(time_s: Floats, nose_m: Floats, outward: Floats, profile: Floats) -> Floats:
    """Share of what lies ahead that lies towards the phone, negative where away from it.

    Who leans or looks towards the phone has the nose nearer to it, so it is seen farther out.
    Left and right of a small body in a pose tell it worse.
    """
    looks = np.sign(_steady(time_s, nose_m * np.sign(outward)))
    frontal = np.where(profile < MOST_PROFILE, np.sqrt(1 - profile**2), 0.0)
    return np.asarray(looks * frontal)


def _steady(time_s: Floats, values: Floats) -> Floats:
    """Running median."""
    return np.array(
        [np.median(values[np.abs(time_s - at_s) <= STEADY_S / 2]) for at_s in time_s]
    )


def _in_line(time_s: Floats, distance_m: Floats) -> NDArray[np.bool_]:
    """Poses that agree with the middle of their neighbours."""
    good = np.isfinite(distance_m)
    for row, at_s in enumerate(time_s):
        near = good & (np.abs(time_s - at_s) <= STEADY_S)
        if near.sum() < 4:
            continue
        slope = np.median(np.gradient(distance_m[near], time_s[near]))
        level = np.median(distance_m[near] - slope * (time_s[near] - at_s))
        good[row] &= abs(distance_m[row] - level) < OUTLIER_M
    return np.asarray(good, dtype=np.bool_)
