"""A stick figure that jumps and lands as told, filmed from any side without perspective.

Body axes: x to the athlete's left, y up, z ahead. At heading 0 she faces the camera.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from measure.types import Contact, Flight, Floats, Foot, Instant, Landmark, PoseTrack, Scale

THIGH_M = SHANK_M = 0.42
TRUNK_M = 0.50
PX_PER_M = 200.0
SCALE = Scale(1 / PX_PER_M, 0.0, "stature")
TAKE_OFF_S, LANDING_S, END_S = 0.8, 1.3, 3.5


def clock(rate_hz: float, *, end_s: float = END_S, jitter: float = 0.0) -> Floats:
    """Frame times, uneven by a share of the interval where told."""
    time_s = np.arange(round(end_s * rate_hz)) / rate_hz
    return time_s + np.random.default_rng(5).uniform(0, jitter, time_s.size) / rate_hz


def take_up(
    time_s: Floats, *, contact: float, peak: float, rest: float, landing_s: float = LANDING_S
) -> Floats:
    """A quantity that goes from contact to peak in 0.2 s and back to rest by 0.8 s."""
    since_s = time_s - landing_s
    down = contact + (peak - contact) * np.sin(np.pi / 2 * np.clip(since_s / 0.2, 0, 1))
    back = np.clip((since_s - 0.2) / 0.6, 0, 1)
    return np.where(since_s < 0.2, down, rest + (peak - rest) * (1 + np.cos(np.pi * back)) / 2)


@dataclass(frozen=True)
class Doll:
    """Joint angles over time, degrees and metres, numbers or arrays of shape (T,)."""

    time_s: Floats
    knee_deg: Floats | float = 10.0
    lean_deg: Floats | float = 5.0
    side_lean_deg: float = 0.0
    heading_deg: Floats | float = 0.0
    knees_inside_m: float = 0.0
    stance_m: float = 0.30
    shift_m: Floats | float = 0.0
    """Of the whole trunk sideways in the body, on top of the legs."""
    raised: Mapping[Foot, Floats] = field(default_factory=dict)
    """Height of a foot above the ground, metres, shape (T,)."""
    hidden: tuple[Foot, ...] = ()
    hands_down: np.ndarray | None = None
    """Rows in which a hand is on the ground."""

    def film(self, *, noise_px: float = 0.0, seed: int = 1) -> PoseTrack:
        """Give the poses as a perfect model would, with noise where told."""
        body = self._points()
        heading = np.broadcast_to(np.radians(self.heading_deg), self.time_s.shape)[:, None]
        x, y, z = np.moveaxis(body, -1, 0)
        across = x * np.cos(heading) + z * np.sin(heading)
        away = x * np.sin(heading) - z * np.cos(heading)
        px = np.stack([640 + PX_PER_M * across, 600 - PX_PER_M * y], axis=-1)
        px += np.random.default_rng(seed).normal(0, noise_px, px.shape) if noise_px else 0.0
        world_m = np.stack([across, 1 - y, away], axis=-1)
        visibility = np.full(px.shape[:2], 0.95)
        for foot in self.hidden:
            visibility[:, [Landmark[f"{foot.upper()}_{part}"]
                           for part in ("KNEE", "ANKLE", "HEEL", "TOE")]] = 0.3  # fmt: skip
        rows = self.time_s.size
        return PoseTrack(np.arange(rows), self.time_s, px, visibility, world_m, 1280, 720)

    def _points(self) -> Floats:
        rows = self.time_s.size
        body = np.zeros((rows, len(Landmark), 3))
        knee = np.broadcast_to(np.radians(self.knee_deg), (rows,))
        lean = np.broadcast_to(np.radians(self.lean_deg), (rows,))
        shank, thigh = 0.4 * knee, 0.6 * knee
        for foot, side in (("LEFT", 1), ("RIGHT", -1)):
            ankle = np.zeros((rows, 3))
            ankle[:, 0] = side * self.stance_m / 2
            ankle[:, 1] = 0.08 + self.raised.get(foot.lower(), np.zeros(rows))
            joint = ankle + SHANK_M * _stack(0 * shank, np.cos(shank), np.sin(shank))
            hip = joint + THIGH_M * _stack(0 * thigh, np.cos(thigh), -np.sin(thigh))
            joint[:, 0] -= side * self.knees_inside_m
            hip[:, 0] += self.shift_m
            shoulder = hip + TRUNK_M * _stack(
                np.cos(lean) * np.tan(np.radians(self.side_lean_deg)), np.cos(lean), np.sin(lean)
            )
            wrist = shoulder + np.array([0.0, -0.5, 0.05])
            if self.hands_down is not None:
                wrist[self.hands_down, 1] = 0.02
            for part, point in {
                "HIP": hip, "KNEE": joint, "ANKLE": ankle,
                "HEEL": ankle + np.array([0, -0.05, -0.05]),
                "TOE": ankle + np.array([0.0, -0.06, 0.18]), "SHOULDER": shoulder, "WRIST": wrist,
                "INDEX": wrist, "PINKY": wrist, "THUMB": wrist,
                "ELBOW": shoulder + np.array([0, -0.25, 0]),
                "EAR": shoulder * [0.5, 1, 1] + np.array([0, 0.2, 0]),
            }.items():  # fmt: skip
                body[:, Landmark[f"{foot}_{part}"]] = point
        head = body[:, [Landmark.LEFT_EAR, Landmark.RIGHT_EAR]].mean(axis=1)
        for mark in [*list(Landmark)[:7], Landmark.MOUTH_LEFT, Landmark.MOUTH_RIGHT]:
            body[:, mark] = head + np.array([0, 0, 0.1])
        return body


def _stack(x: Floats, y: Floats, z: Floats) -> Floats:
    return np.stack([x, y, z], axis=-1)


def instant(time_s: float, sigma_s: float = 0.002) -> Instant:
    return Instant(time_s, sigma_s)


def contact(foot: Foot, start_s: float | None, end_s: float | None) -> Contact:
    return Contact(
        foot,
        None if start_s is None else instant(start_s),
        None if end_s is None else instant(end_s),
    )


def flight(
    take_off_s: float = TAKE_OFF_S, landing_s: float = LANDING_S, *, off: str = "both",
    on: str = "both",
) -> Flight:  # fmt: skip
    return Flight(instant(take_off_s), instant(landing_s), off, on)


def two_feet(lag_s: float = 0.0) -> list[Contact]:
    """Contacts of one jump on both feet, the right one landing later by the lag."""
    return [
        contact("left", None, TAKE_OFF_S), contact("right", None, TAKE_OFF_S),
        contact("left", LANDING_S, None), contact("right", LANDING_S + lag_s, None),
    ]  # fmt: skip


def one_foot(foot: Foot = "left") -> list[Contact]:
    return [contact(foot, None, TAKE_OFF_S), contact(foot, LANDING_S, None)]
