"""Motions with a known answer: a thrown point, an ideal jump, a runner at constant speed.

Times are real seconds, places metres with y up; tracks are pixels with y down. Randomness comes
from the generator that is passed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.body import centre_of_mass
from measure.types import Flight, Instant, Landmark, PoseTrack

Floats = NDArray[np.float64]


def even_stamps(rate_hz: float, *, duration_s: float) -> Floats:
    """Frames at a steady rate from 0."""
    return np.arange(round(duration_s * rate_hz) + 1) / rate_hz


def uneven_stamps(rate_hz: float, *, duration_s: float, rng: np.random.Generator) -> Floats:
    """Frames whose intervals vary by a fifth, as phones in dim light give them."""
    intervals = rng.uniform(0.8, 1.2, round(duration_s * rate_hz)) / rate_hz
    return np.concatenate([[0.0], np.cumsum(intervals)])


def without(time_s: Floats, *, between_s: tuple[float, float]) -> Floats:
    """Leave out the frames of a gap."""
    return time_s[(time_s < between_s[0]) | (time_s > between_s[1])]


def thrown_point_m(
    time_s: Floats, *, thrown_at_s: float, speed_mps: float,
    gravity_mps2: float = STANDARD_GRAVITY_MPS2,
) -> Floats:  # fmt: skip
    """Height of a point that rests on the ground, is thrown upwards, and comes back to rest."""
    since_s = time_s - thrown_at_s
    height_m = speed_mps * since_s - gravity_mps2 * since_s**2 / 2
    return np.where(since_s > 0, np.maximum(height_m, 0.0), 0.0)


@dataclass(frozen=True, slots=True)
class Figure:
    """A person of sticks seen from the side, both sides alike. Lengths in metres."""

    thigh_m: float = 0.42
    shank_m: float = 0.42
    ankle_height_m: float = 0.08

    def leg(self, knee_flexion_deg: float) -> float:
        """Distance from hip to ankle."""
        interior = np.pi - np.radians(knee_flexion_deg)
        squares = self.thigh_m**2 + self.shank_m**2
        return float(np.sqrt(squares - 2 * self.thigh_m * self.shank_m * np.cos(interior)))

    def points_m(self, hip_height_m: Floats, leg_m: Floats) -> dict[str, Floats]:
        """Place every end, shape (T, 2); the foot stays flat and below the hip."""
        leg_m = np.asarray(leg_m, dtype=np.float64)
        ankle_m = hip_height_m - leg_m
        along = (self.thigh_m**2 - self.shank_m**2 + leg_m**2) / (2 * leg_m)
        forward = np.sqrt(np.maximum(self.thigh_m**2 - along**2, 0.0))
        offsets = {
            "vertex": (0.0, 0.80), "neck": (0.0, 0.56), "nose": (0.1, 0.63), "ear": (0.0, 0.68),
            "shoulder": (0.0, 0.50), "elbow": (0.0, 0.22), "wrist": (0.05, -0.02),
            "knuckle": (0.05, -0.10), "hip": (0.0, 0.0),
        }  # fmt: skip
        points = {
            name: np.stack([np.full_like(hip_height_m, x), hip_height_m + y], axis=1)
            for name, (x, y) in offsets.items()
        }
        points["knee"] = np.stack([forward, hip_height_m - along], axis=1)
        low = {"ankle": (0.0, 0.0), "heel": (-0.05, -0.06), "toe": (0.18, -self.ankle_height_m)}
        for name, (x, y) in low.items():
            points[name] = np.stack([np.full_like(ankle_m, x), ankle_m + y], axis=1)
        return points

    def centre_m(self, hip_height_m: Floats, leg_m: Floats) -> Floats:
        """Height of the centre of mass (mean of de Leva's tables)."""
        points = self.points_m(hip_height_m, leg_m)
        middle = {"mid_shoulder": points["shoulder"], "mid_hip": points["hip"]}
        # A pose track has the ears for the whole head.
        head = {"vertex": points["ear"], "neck": points["ear"]}
        limbs = {
            f"{side}_{name}": point for side in ("left", "right") for name, point in points.items()
        }
        return centre_of_mass(middle | head | limbs)[:, 1]


_POINT_OF = {
    "SHOULDER": "shoulder", "ELBOW": "elbow", "WRIST": "wrist", "PINKY": "knuckle",
    "INDEX": "knuckle", "THUMB": "knuckle", "HIP": "hip", "KNEE": "knee", "ANKLE": "ankle",
    "HEEL": "heel", "TOE": "toe", "EAR": "ear",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class DrawnScene:
    """How metres become pixels: floor at ``floor_px``, the athlete at ``x_px``."""

    m_per_px: float = 0.004
    floor_px: float = 620.0
    x_px: float = 640.0
    width_px: int = 1280
    height_px: int = 720

    def draw(
        self, points_m: dict[str, Floats], *, time_s: Floats, noise_px: float = 0.0,
        rng: np.random.Generator | None = None, depth_m: float = 0.0,
    ) -> PoseTrack:  # fmt: skip
        """Make a pose track; ``depth_m`` is how far the left side is from the right."""
        rows = time_s.shape[0]
        world_m = np.zeros((rows, len(Landmark), 3))
        for landmark in Landmark:
            point = points_m[_POINT_OF.get(landmark.name.split("_")[-1], "nose")]
            world_m[:, landmark, :2] = (point - points_m["hip"]) * (1, -1)
            world_m[:, landmark, 2] = depth_m / 2 * (1 if "LEFT" in landmark.name else -1)
        hip_px = np.stack(
            [self.x_px + points_m["hip"][:, 0] / self.m_per_px,
             self.floor_px - points_m["hip"][:, 1] / self.m_per_px], axis=1,
        )  # fmt: skip
        px = hip_px[:, None] + world_m[..., :2] / self.m_per_px
        if noise_px:
            px += (rng or np.random.default_rng(0)).normal(0, noise_px, px.shape)
        return PoseTrack(
            frame_index=np.arange(rows), file_time_s=time_s.copy(), px=px,
            visibility=np.ones((rows, len(Landmark))), world_m=world_m,
            width_px=self.width_px, height_px=self.height_px,
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class IdealJump:
    """A countermovement jump whose centre of mass is a thrown stone in the air.

    Quiet standing, dip, push, flight, soft landing, standing again. The foot leaves flat at
    ``take_off_s``; it lands with the knee bent by ``landing_flexion_deg``.
    """

    height_m: float = 0.30
    """True rise of the centre of mass from take-off to the top."""
    take_off_s: float = 1.5
    dip_m: float = 0.25
    landing_flexion_deg: float = 4.0
    """4 is the posture of the take-off, so that g T^2 / 8 is exact."""
    gravity_mps2: float = STANDARD_GRAVITY_MPS2
    figure: Figure = Figure()

    _TAKE_OFF_FLEXION_DEG = 4.0
    _STANDING_FLEXION_DEG = 12.0

    @property
    def speed_mps(self) -> float:
        return float(np.sqrt(2 * self.gravity_mps2 * self.height_m))

    @property
    def apex_s(self) -> float:
        return self.take_off_s + self.speed_mps / self.gravity_mps2

    @property
    def landing_s(self) -> float:
        fall_m = self.height_m + self.landing_drop_m
        return self.apex_s + float(np.sqrt(2 * fall_m / self.gravity_mps2))

    @property
    def landing_drop_m(self) -> float:
        """How much lower the centre of mass is at landing than at take-off."""
        return self._level(self._TAKE_OFF_FLEXION_DEG) - self._level(self.landing_flexion_deg)

    @property
    def height_standing_m(self) -> float:
        """True rise of the centre of mass above quiet standing."""
        raised_m = self._level(self._TAKE_OFF_FLEXION_DEG) - self._level(self._STANDING_FLEXION_DEG)
        return self.height_m + raised_m

    def flight(self, *, take_off_sigma_s: float = 0.0, landing_sigma_s: float = 0.0) -> Flight:
        """Give the true flight, with the doubt that a measured one would claim."""
        return Flight(
            Instant(self.take_off_s, take_off_sigma_s), Instant(self.landing_s, landing_sigma_s),
            "both", "both",
        )  # fmt: skip

    def centre_m(self, time_s: Floats) -> Floats:
        """Height of the centre of mass above the floor, exact in the air."""
        leaves_m, lands_m, stands_m = (
            self._level(flexion)
            for flexion in (
                self._TAKE_OFF_FLEXION_DEG, self.landing_flexion_deg, self._STANDING_FLEXION_DEG,
            )
        )  # fmt: skip
        low_m = stands_m - self.dip_m
        push_s = 2.2 * (leaves_m - low_m) / self.speed_mps
        dips_s = self.take_off_s - push_s
        down_mps = -self.gravity_mps2 * (self.landing_s - self.apex_s)
        stop_s = 2.2 * 0.2 / -down_mps
        stop_m = lands_m - 0.2
        since_s = time_s - self.take_off_s
        in_air = leaves_m + self.speed_mps * since_s - self.gravity_mps2 * since_s**2 / 2
        lands_s = self.landing_s
        knots = [
            (dips_s - 0.5, (stands_m, 0, 0)), (dips_s, (low_m, 0, 0)),
            (self.take_off_s, (leaves_m, self.speed_mps, -self.gravity_mps2)),
        ]  # fmt: skip
        after = [
            (lands_s, (lands_m, down_mps, -self.gravity_mps2)), (lands_s + stop_s, (stop_m, 0, 0)),
            (lands_s + stop_s + 0.6, (stands_m, 0, 0)),
        ]  # fmt: skip
        flying = (time_s > self.take_off_s) & (time_s < lands_s)
        on_ground = np.where(since_s <= 0, _smooth(time_s, knots), _smooth(time_s, after))
        return np.where(flying, in_air, on_ground)

    def track(
        self, time_s: Floats, *, scene: DrawnScene | None = None, noise_px: float = 0.0,
        rng: np.random.Generator | None = None,
    ) -> PoseTrack:  # fmt: skip
        """Draw the jump at the given times, seen from the side."""
        hip_m, leg_m = self._posture(time_s)
        points_m = self.figure.points_m(hip_m, leg_m)
        return (scene or DrawnScene()).draw(points_m, time_s=time_s, noise_px=noise_px, rng=rng)

    def _posture(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Hip height and leg length that put the centre of mass on its path."""
        centre_m = self.centre_m(time_s)
        flown = np.clip((time_s - self.take_off_s) / (self.landing_s - self.take_off_s), 0.0, 1.0)
        bent = self._TAKE_OFF_FLEXION_DEG + flown * (
            self.landing_flexion_deg - self._TAKE_OFF_FLEXION_DEG
        )
        flying_leg_m = np.array([self.figure.leg(flexion) for flexion in bent])
        flying = (flown > 0) & (flown < 1)
        hip_m = centre_m.copy()
        leg_m = flying_leg_m
        for _ in range(60):
            standing_leg_m = np.clip(hip_m - self.figure.ankle_height_m, 0.3, self.figure.leg(0.0))
            leg_m = np.where(flying, flying_leg_m, standing_leg_m)
            hip_m = hip_m + centre_m - self.figure.centre_m(hip_m, leg_m)
        return hip_m, leg_m

    def _level(self, knee_flexion_deg: float) -> float:
        """Height of the centre of mass when standing flat with this bend."""
        leg_m = np.array([self.figure.leg(knee_flexion_deg)])
        return float(self.figure.centre_m(leg_m + self.figure.ankle_height_m, leg_m)[0])


def runner(
    time_s: Floats, *, speed_mps: float, scene: DrawnScene | None = None, noise_px: float = 0.0,
    rng: np.random.Generator | None = None,
) -> PoseTrack:  # fmt: skip
    """Draw a stiff figure that glides to the right at constant speed, upright, feet off floor."""
    figure = Figure()
    hip_m = np.full_like(time_s, 0.95)
    points_m = figure.points_m(hip_m, np.full_like(time_s, figure.leg(20.0)))
    moved = {
        name: point + np.stack([speed_mps * time_s, np.zeros_like(time_s)], axis=1)
        for name, point in points_m.items()
    }
    return (scene or DrawnScene(x_px=0.0)).draw(moved, time_s=time_s, noise_px=noise_px, rng=rng)


def _smooth(time_s: Floats, knots: list[tuple[float, tuple[float, float, float]]]) -> Floats:
    """Quintic pieces through (place, speed, acceleration), still before and after them."""
    path = np.where(time_s < knots[0][0], knots[0][1][0], knots[-1][1][0])
    for (start_s, first), (end_s, last) in pairwise(knots):
        long_s = end_s - start_s
        powers = np.arange(6)
        rows = []
        for at in (0.0, long_s):
            rows.append(at**powers)
            rows.append(powers * at ** np.maximum(powers - 1, 0))
            rows.append(powers * (powers - 1) * at ** np.maximum(powers - 2, 0))
        factors = np.linalg.solve(np.array(rows), np.array([*first, *last]))
        inside = (time_s >= start_s) & (time_s <= end_s)
        path = np.where(inside, np.polynomial.polynomial.polyval(time_s - start_s, factors), path)
    return path
