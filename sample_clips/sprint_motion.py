"""A drawn runner: hips on a given path along z, feet that stand where she runs over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from sample_clips.body import Body
from sample_clips.curves import Floats, smooth_step
from sample_clips.feet import Contact, Foot, Leaving, Meeting, Swing, swing_foot
from sample_clips.skeleton import SIDES, Joints, Posture, bend_leg, frame_of, upper_body

Rng = np.random.Generator

STEP_S = 0.001
LAST_M = 18.288
"""20 yards."""
BEYOND_M = 2.2
RISES_S, LEANS_S, ARMS_S = 1.2, 2.0, 0.35
"""How long hips, trunk and arms take to come to running."""
LIFT_PER_STATURE, LEAST_LIFT_M = 0.32, 0.06
"""Of a swinging foot: at full speed, and in the first step."""
DEEPEST_M, LONGEST_LEG = 0.006, 1.05
"""A swinging foot may not sink farther below the ground (half a pixel), nor a leg be longer than
its parts by more."""
OTHER = {"left": "right", "right": "left"}


@dataclass(frozen=True)
class SetPosition:
    """How a runner waits, lengths in statures where not said otherwise."""

    behind_m: float
    """Hips behind the line."""
    hips: float
    lean_rad: float
    front_m: float
    """Toes of the front foot ahead of the hips."""
    rear_m: float
    heels_rad: tuple[float, float]
    """Pitch of the rear and of the front foot."""
    shoulder_rad: float
    elbow_rad: float


SETS = {
    "three_point": SetPosition(0.55, 0.43, 1.25, 0.07, -0.42, (0.7, 0.35), 1.35, 0.1),
    "standing": SetPosition(0.35, 0.485, 0.65, 0.33, -0.32, (0.3, 0.05), 0.5, 0.9),
}


def draw_run(rng: Rng) -> DrawnRun:
    """Draw runs until a body could do one."""
    while not (run := DrawnRun(rng)).is_possible():
        pass
    return run


class HipsPath:
    """Speed V (1 - exp(-t / tau)) from the start on, taken up within some tens of ms."""

    def __init__(self, rng: Rng, rest_m: float) -> None:
        """Draw a run."""
        self.starts_s = float(rng.uniform(0.8, 1.6))
        self.final_mps, self.tau_s = float(rng.uniform(6.4, 8.6)), float(rng.uniform(0.9, 1.25))
        onset_s = float(rng.uniform(0.04, 0.12))
        self.time_s = np.arange(0, 9, STEP_S)
        since = np.maximum(self.time_s - self.starts_s - onset_s / 2, 0)
        speed = self.final_mps * (1 - np.exp(-since / self.tau_s))
        count = int(onset_s / STEP_S)
        speed = np.convolve(speed, np.ones(count) / count, "same")
        # The filter also bends the far end of the curve, where nobody looks.
        speed[self.time_s < self.starts_s] = 0
        self.speed_mps = speed
        gone_m = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2) * STEP_S])
        self.along_m = CubicSpline(self.time_s, rest_m + gone_m)
        past = np.asarray(self.along_m(self.time_s)) > LAST_M + BEYOND_M
        self.ends_s = float(self.time_s[np.argmax(past)])

    def passes_s(self, distance_m: float) -> float:
        """When the hips pass a place."""
        return float(np.interp(distance_m, self.along_m(self.time_s), self.time_s))

    def speed_at(self, time_s: float) -> float:
        """Forward speed."""
        return float(np.interp(time_s, self.time_s, self.speed_mps))


class DrawnRun:
    """Everything that moves."""

    last_m = LAST_M

    def __init__(self, rng: Rng) -> None:
        """Draw a person, a set position and a run."""
        sex = "female" if rng.random() < 0.5 else "male"
        self.body = Body(float(rng.uniform(1.55, 1.9)), sex, 65.0, sole_m=0.025)
        self.stance = str(rng.choice(list(SETS)))
        self.rest = SETS[self.stance]
        self.front = str(rng.choice(list(OTHER)))
        self.hips = HipsPath(rng, -self.rest.behind_m)
        self.steps: list[tuple[str, float, float]] = []
        self.legs: dict[str, list[Contact]] = {"left": [], "right": []}
        self._plan(rng)
        middles_s = [(start + end) / 2 for _, start, end in self.steps]
        ahead = [1.0 if side == "left" else -1.0 for side, _, _ in self.steps]
        moments_s = [-1.0, self.hips.starts_s, *middles_s]
        self._arms = PchipInterpolator(moments_s, [0.0, 0.0, *ahead])

    def _plan(self, rng: Rng) -> None:
        """Where each foot stands from when to when."""
        start_s, rest, rear = self.hips.starts_s, self.rest, OTHER[self.front]
        rear_off_s = start_s + float(rng.uniform(0.10, 0.22))
        front_off_s = start_s + float(rng.uniform(0.42, 0.55))
        for side, until_s, ahead_m, heel_rad, leaving in (
            (rear, rear_off_s, rest.rear_m, rest.heels_rad[0], Leaving(1.2, rear_s=0.12)),
            (self.front, front_off_s, rest.front_m, rest.heels_rad[1], Leaving(1.05, rear_s=0.2)),
        ):
            self._stand(side, -9.0, until_s, ahead_m - rest.behind_m, Meeting(), leaving, heel_rad)
        side, time_s, count = rear, front_off_s + float(rng.uniform(0.02, 0.06)), 0
        while time_s < self.hips.ends_s + 1:
            early = float(np.exp(-count / 3))
            until_s = time_s + 0.11 + 0.094 * early
            self._run_step(side, time_s, until_s, early)
            side, time_s, count = OTHER[side], until_s + 0.12 - 0.08 * early, count + 1

    def _run_step(self, side: str, start_s: float, end_s: float, early: float) -> None:
        """One foot on the ground; ``early`` is 1 for the first step and fades."""
        place_m = float(self.hips.along_m(start_s + 0.42 * (end_s - start_s)))
        self._stand(
            side, start_s, end_s, place_m + 0.12 - 0.16 * early,
            Meeting(rear_rad=0.2, toes_rad=0.1, rear_s=0.05), Leaving(1.05, rear_s=0.09), 0.1,
        )  # fmt: skip
        self.steps.append((side, start_s, end_s))

    def _stand(
        self, side: str, start_s: float, end_s: float, along_m: float, meeting: Meeting,
        leaving: Leaving, heel_rad: float,
    ) -> None:  # fmt: skip
        across_m = SIDES[side] * 0.0275 * self.body.stature_m
        self.legs[side].append(Contact(
            start_s, end_s, np.array([across_m, 0.0, along_m]), meeting=meeting,
            leaving=leaving, middle_rad=heel_rad,
        ))  # fmt: skip

    def place_m(self, time_s: Floats) -> Floats:
        """Middle of the hips, (T, 3)."""
        low, high = self.rest.hips, 0.515
        rises = smooth_step((time_s - self.hips.starts_s) / RISES_S)
        height_m = self.body.stature_m * (low + (high - low) * rises)
        return np.stack([0 * time_s, height_m, self.hips.along_m(time_s)], -1)

    def velocity_mps(self, time_s: Floats) -> Floats:
        """Of the hips, (T, 3)."""
        return (self.place_m(time_s + 1e-4) - self.place_m(time_s - 1e-4)) / 2e-4

    def joints(self, time_s: Floats) -> Joints:
        """Joint centres, (T, 3) each."""
        time_s = np.asarray(time_s, dtype=np.float64)
        posture, zero = self._posture(time_s), np.zeros_like(time_s)
        pelvis = self.place_m(time_s)
        joints = {name: pelvis + place for name, place in upper_body(self.body, posture).items()}
        front = frame_of(posture.yaw_rad, zero, zero).front
        for side in SIDES:
            points = self._foot(side, time_s).points_m(self.body)
            joints |= {f"{side}_{name}": place for name, place in points.items()}
            joints[f"{side}_knee"], joints[f"{side}_stretch"] = bend_leg(
                joints[f"{side}_hip"], points["ankle"], body=self.body, ahead=front
            )
        return joints

    def is_possible(self) -> bool:
        """Whether no leg is torn and no foot goes through the ground."""
        joints = self.joints(np.arange(0, self.hips.ends_s, 0.004))
        stretch = max(float(joints[f"{side}_stretch"].max()) for side in SIDES)
        deepest_m = min(
            float(joints[f"{side}_{part}"][:, 1].min())
            for side in SIDES for part in ("tip", "ball", "heel_edge")
        )  # fmt: skip
        return stretch < LONGEST_LEG and deepest_m > -DEEPEST_M

    def _posture(self, time_s: Floats) -> Posture:
        since, rest, zero = time_s - self.hips.starts_s, self.rest, np.zeros_like(time_s)
        lean = rest.lean_rad + (min(rest.lean_rad, 0.75) - rest.lean_rad) * smooth_step(since / 0.5)
        lean = lean + (0.12 - lean) * smooth_step((since - 0.3) / LEANS_S)
        runs = smooth_step(since / ARMS_S)
        swing = 0.85 * self._arms(time_s)
        shoulders = {
            side: rest.shoulder_rad * (1 - runs) + (0.1 - sign * swing) * runs
            for side, sign in SIDES.items()
        }
        elbow = rest.elbow_rad * (1 - runs) + 1.5 * runs
        out = {side: 0.12 + zero for side in SIDES}
        return Posture(
            zero, lean, zero, 0.2 * lean, shoulders, out, {side: elbow for side in SIDES}
        )

    def _foot(self, side: str, time_s: Floats) -> Foot:
        """One foot over time, contact after contact and what lies between."""
        fields = [np.empty((time_s.size, 3)), *(np.empty(time_s.size) for _ in range(3))]
        stands = self.legs[side]
        for stand, after in zip(stands, [*stands[1:], None], strict=True):
            until_s = np.inf if after is None else after.start_s
            on = (time_s >= stand.start_s) & (time_s <= stand.end_s)
            off = (time_s > stand.end_s) & (time_s < until_s)
            parts = [(on, stand.place(time_s[on], self.body))]
            if after is not None and off.any():
                parts.append((off, self._swing(time_s[off], stand, after)))
            elif off.any():
                parts.append((off, stand.place(np.full(off.sum(), stand.end_s), self.body)))
            for where, foot in parts:
                values = foot.tip_m, foot.yaw_rad, foot.rear_rad, foot.toes_rad
                for field, value in zip(fields, values, strict=True):
                    field[where] = value
        return Foot(*fields)

    def _swing(self, time_s: Floats, stand: Contact, after: Contact) -> Foot:
        fast = float(np.clip((self.hips.speed_at(stand.end_s) - 1.5) / 5, 0, 1))
        lift_m = max(LEAST_LIFT_M, LIFT_PER_STATURE * self.body.stature_m * fast)
        return swing_foot(
            time_s, leave=stand, land=after, path=self, body=self.body,
            swing=Swing(lift_m=lift_m, rear_rad=1.3 if lift_m > 0.1 else 0.3),
        )  # fmt: skip
