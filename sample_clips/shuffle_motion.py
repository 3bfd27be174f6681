"""A drawn runner who shuffles sideways, turns on the leading foot and sprints on.

The trailing foot pushes off for the last time, the leading foot is planted, the body turns over it
and the trailing foot comes down as the first of the run.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from sample_clips.body import Body
from sample_clips.curves import Floats, smooth_step
from sample_clips.feet import Contact, Foot, Leaving, Meeting, Swing, swing_foot
from sample_clips.skeleton import SIDES, Posture
from sample_clips.sprint_motion import BEYOND_M, OTHER, STEP_S, DrawnRun, Rng

TURN_M, LAST_M = 4.572, 27.432
"""5 and 30 yards."""
HIPS, HIPS_RUNNING = 0.43, 0.5
"""Height of the hips over the stature, low in the shuffle."""
TRIES = 200


def draw_shuffle(rng: Rng) -> DrawnShuffle:
    """Draw shuffles until a body could do one."""
    for _ in range(TRIES):
        if (run := DrawnShuffle(rng)).is_possible():
            return run
    raise RuntimeError(f"no possible body in {TRIES} draws")


class ShuffleHips:
    """A steady shuffle after a quick start, then V (1 - exp(-t / tau)) on top of it."""

    def __init__(self, rng: Rng, rest_m: float) -> None:
        """Draw a run; the turn comes with `turn_at`."""
        self.starts_s = float(rng.uniform(0.8, 1.6))
        self.shuffle_mps, self._quick_s = float(rng.uniform(2.2, 3.1)), float(rng.uniform(0.3, 0.4))
        self.final_mps, self.tau_s = float(rng.uniform(6.4, 8.4)), float(rng.uniform(0.9, 1.25))
        self._lost = float(rng.uniform(0, 0.25))
        """Of the shuffle's speed, while the body turns."""
        self.time_s = np.arange(0, 12, STEP_S)
        self._rest_m = rest_m
        self.turn_at(np.inf)

    def turn_at(self, plant_s: float, plant_long_s: float = 0.3) -> None:
        """Begin the run once the leading foot is planted."""
        since = np.maximum(self.time_s - self.starts_s - 0.03, 0)
        speed = self.shuffle_mps * (1 - np.exp(-since / self._quick_s))
        turned = np.clip((self.time_s - plant_s) / plant_long_s, 0, 1)
        speed = speed * (1 - self._lost * np.sin(np.pi * turned) ** 2)
        gone = np.maximum(self.time_s - plant_s - 0.35 * plant_long_s, 0)
        speed = speed + (self.final_mps - self.shuffle_mps) * (1 - np.exp(-gone / self.tau_s))
        count = int(0.06 / STEP_S)
        speed = np.convolve(speed, np.ones(count) / count, "same")
        speed[self.time_s < self.starts_s] = 0
        self.speed_mps = speed
        gone_m = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2) * STEP_S])
        self.along_m = CubicSpline(self.time_s, self._rest_m + gone_m)
        past = np.asarray(self.along_m(self.time_s)) > LAST_M + BEYOND_M
        self.ends_s = float(self.time_s[np.argmax(past)]) if past.any() else float(self.time_s[-1])

    def passes_s(self, distance_m: float) -> float:
        """When the hips pass a place."""
        return float(np.interp(distance_m, self.along_m(self.time_s), self.time_s))

    def speed_at(self, time_s: float) -> float:
        """Forward speed."""
        return float(np.interp(time_s, self.time_s, self.speed_mps))


class DrawnShuffle(DrawnRun):
    """Everything that moves."""

    last_m = LAST_M

    def __init__(self, rng: Rng) -> None:
        """Draw a person, a shuffle and a run."""
        sex = "female" if rng.random() < 0.5 else "male"
        self.body = Body(float(rng.uniform(1.55, 1.9)), sex, 65.0, sole_m=0.025)
        self.stance, self.front = "athletic", str(rng.choice(list(OTHER)))
        self.hips = ShuffleHips(rng, -0.4)  # type: ignore[assignment]
        self.steps: list[tuple[str, float, float]] = []
        self.legs: dict[str, list[Contact]] = {"left": [], "right": []}
        self.yaw_rad = -SIDES[self.front] * np.pi / 2
        self._lean_rad, self._elbow_rad = float(rng.uniform(0.25, 0.5)), float(rng.uniform(1, 1.5))
        self._shuffle(rng)
        self._run(rng)
        middles_s = [(start + end) / 2 for _, start, end in self.steps]
        ahead = [SIDES[side] for side, _, _ in self.steps]
        self._arms = PchipInterpolator([-1.0, self.turn_s[0], *middles_s], [0.0, 0.0, *ahead])

    @property
    def turn_s(self) -> tuple[float, float]:
        """Last push-off of the trailing foot and first touchdown of the run."""
        return self._pushed_s, self.steps[0][1]

    def _shuffle(self, rng: Rng) -> None:
        """Feet that close up and step out, until the leading one is near the mark."""
        lead, trail = self.front, OTHER[self.front]
        until_m = TURN_M + float(rng.uniform(-0.6, 0.2))
        flight_s, stays_s = float(rng.uniform(0.02, 0.035)), float(rng.uniform(0.14, 0.17))
        # The trailing foot closes up to the place that the leading one has just left.
        aside_m = 0.5 * (self.hips.shuffle_mps * (stays_s + flight_s) + float(rng.uniform(0, 0.25)))
        off_s = self.hips.starts_s + float(rng.uniform(0.06, 0.10))
        self._sideways(lead, -9.0, off_s, -0.4 + 0.22)
        time_s = self.hips.starts_s + float(rng.uniform(0.28, 0.36))
        self._sideways(trail, -9.0, time_s, -0.4 - 0.22)
        side, count = lead, 0
        while True:
            self._pushed_s = time_s
            time_s += flight_s
            until_s = time_s + stays_s + 0.06 * float(np.exp(-count / 2))
            if side == lead and self.hips.along_m(time_s) > until_m:
                break
            middle_m = float(self.hips.along_m((time_s + until_s) / 2))
            self._sideways(side, time_s, until_s, middle_m + (1 if side == lead else -1) * aside_m)
            side, time_s, count = OTHER[side], until_s, count + 1
        plant_long_s = float(rng.uniform(0.28, 0.38))
        self.hips.turn_at(time_s, plant_long_s)  # type: ignore[attr-defined]
        self.plant_s = time_s, time_s + plant_long_s
        middle_m = float(self.hips.along_m(time_s + 0.42 * plant_long_s))
        yaw_rad = self.yaw_rad * float(rng.uniform(0.3, 0.9))
        self._sideways(lead, *self.plant_s, middle_m, yaw_rad=yaw_rad, rises_rad=1.05)

    def _sideways(
        self, side: str, start_s: float, end_s: float, along_m: float, *,
        yaw_rad: float | None = None, rises_rad: float = 0.5,
    ) -> None:  # fmt: skip
        """Stand with the ankle at a place along the lane."""
        yaw_rad = self.yaw_rad if yaw_rad is None else yaw_rad
        reach_m = self.body.foot_m - self.body.ankle_ahead_m
        tip_m = np.array([reach_m * np.sin(yaw_rad), 0.0, along_m + reach_m * np.cos(yaw_rad)])
        self.legs[side].append(Contact(
            start_s, end_s, tip_m, yaw_rad=yaw_rad, meeting=Meeting(0.1, 0.05, rear_s=0.04),
            leaving=Leaving(rises_rad, rear_s=0.1), middle_rad=0.04,
        ))  # fmt: skip

    def _run(self, rng: Rng) -> None:
        side, time_s, count = OTHER[self.front], self.plant_s[1] + float(rng.uniform(0.02, 0.05)), 0
        while time_s < self.hips.ends_s + 1:
            early = 0.7 * float(np.exp(-count / 3))
            until_s = time_s + 0.11 + 0.094 * early
            self._run_step(side, time_s, until_s, early)
            side, time_s, count = OTHER[side], until_s + 0.12 - 0.08 * early, count + 1

    def place_m(self, time_s: Floats) -> Floats:
        """Middle of the hips, (T, 3)."""
        rises = smooth_step((time_s - self.plant_s[0] - 0.2) / 1.2)
        height_m = self.body.stature_m * (HIPS + (HIPS_RUNNING - HIPS) * rises)
        return np.stack([0 * time_s, height_m, self.hips.along_m(time_s)], -1)

    def _posture(self, time_s: Floats) -> Posture:
        zero = np.zeros_like(time_s)
        turns = smooth_step((time_s - self.plant_s[0]) / (self.turn_s[1] - self.plant_s[0]))
        runs = smooth_step((time_s - self.turn_s[0]) / 0.35)
        lean = self._lean_rad + (0.6 - self._lean_rad) * turns
        lean = lean + (0.12 - lean) * smooth_step((time_s - self.turn_s[1]) / 1.5)
        swing = 0.85 * self._arms(time_s)
        shoulders = {
            side: 0.35 * (1 - runs) + (0.1 - sign * swing) * runs for side, sign in SIDES.items()
        }
        elbow = self._elbow_rad * (1 - runs) + 1.5 * runs
        out = {side: 0.35 - 0.23 * runs for side in SIDES}
        return Posture(
            self.yaw_rad * (1 - turns), lean, zero, 0.2 * lean, shoulders, out,
            dict.fromkeys(SIDES, elbow),
        )  # fmt: skip

    def _swing(self, time_s: Floats, stand: Contact, after: Contact) -> Foot:
        if after.start_s > self.plant_s[0]:
            return super()._swing(time_s, stand, after)
        return swing_foot(
            time_s, leave=stand, land=after, path=self, body=self.body,
            swing=Swing(lift_m=0.05, rear_rad=0.2),
        )  # fmt: skip
