"""Whether a motion keeps its own rules: legs that reach, feet above ground, ground that pushes."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sample_clips.curves import GRAVITY_MPS2
from sample_clips.exercises.stages import CannotMove
from sample_clips.motion import Motion
from sample_clips.skeleton import SIDES

STEP_S = 0.004
LONGEST_STRETCH = 1.0
MOST_KNEE_DEG = 140.0
STRONGEST_PUSH = 9.0
"""Of body weight; a stiff landing of drop jumps reaches it."""


def check_motion(motion: Motion) -> None:
    """Let a possible motion pass.

    Raises
    ------
    CannotMove
        Saying what is impossible.
    """
    times = np.arange(0.0, motion.end_s, STEP_S)
    joints = motion.joints(times)
    for side in SIDES:
        stretch = float(joints[f"{side}_stretch"].max())
        if stretch >= LONGEST_STRETCH:
            raise CannotMove(f"the {side} leg would have to be {stretch:.3f} of its length")
        if float(motion.knee_deg(joints, side).max()) > MOST_KNEE_DEG:
            raise CannotMove(f"the {side} knee would bend too far")
    _check_ground(motion)
    _check_feet(motion)


def _check_ground(motion: Motion) -> None:
    """The ground can push, not pull."""
    times = np.arange(0.0, motion.end_s, STEP_S)
    push = motion.path.acceleration_mps2(times)[:, 1] / GRAVITY_MPS2 + 1
    if push.min() < -0.02 or push.max() > STRONGEST_PUSH:
        raise CannotMove(f"the ground would push with {push.min():.2f} to {push.max():.1f}")


def _check_feet(motion: Motion) -> None:
    """A foot between contacts is above the ground, by more the longer it is off."""
    for side in SIDES:
        contacts = motion.contacts(side)
        free = [
            (a.end_s, b.start_s, min(a.tip_m[1], b.tip_m[1]))
            for a, b in pairwise(contacts)
        ]
        if motion.legs[side].held is not None:
            end = contacts[0].start_s if contacts else motion.end_s
            free.append((0.0, end, 0.0))
        for start, end, ground_m in free:
            times = np.linspace(start, end, 400)[1:-1]
            low = motion.lowest_m(times)[side] - ground_m
            if low.min() <= 0:
                raise CannotMove(f"the {side} foot would go through the ground")
