"""Stick figures that walk, step off a box and lift a foot: known feet for the coarse look."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.gravity import STANDARD_GRAVITY_MPS2
from measure.types import FOOT_LANDMARKS, Floats, Foot, PoseTrack
from tests.known_motions import DrawnScene, IdealJump

M_PER_PX = DrawnScene().m_per_px


def standing(time_s: Floats) -> PoseTrack:
    """Somebody who never moves."""
    return IdealJump(take_off_s=1000.0).track(time_s)


def moved(track: PoseTrack, *, up_m: Floats, right_m: Floats | None = None) -> PoseTrack:
    """The whole body moved in the picture, each shape (T,)."""
    px = track.px.copy()
    px[..., 1] -= up_m[:, None] / M_PER_PX
    if right_m is not None:
        px[..., 0] += right_m[:, None] / M_PER_PX
    return replace(track, px=px)


def foot_moved(
    track: PoseTrack, foot: Foot, *, up_m: Floats, right_m: Floats | None = None
) -> PoseTrack:
    """One foot moved in the picture, each shape (T,)."""
    px, leg = track.px.copy(), FOOT_LANDMARKS[foot]
    for point in (leg.ankle, leg.heel, leg.toe):
        px[:, point, 1] -= up_m / M_PER_PX
        if right_m is not None:
            px[:, point, 0] += right_m / M_PER_PX
    return replace(track, px=px)


def bump(time_s: Floats, start_s: float, end_s: float) -> Floats:
    """Half a sine from 0 to 1 and back between two times."""
    share = np.clip((time_s - start_s) / (end_s - start_s), 0.0, 1.0)
    return np.sin(np.pi * share)


def ramp(time_s: Floats, start_s: float, end_s: float) -> Floats:
    """From 0 to 1 between two times, starting and ending at rest."""
    share = np.clip((time_s - start_s) / (end_s - start_s), 0.0, 1.0)
    return share * share * (3 - 2 * share)


def box_drop(time_s: Floats, *, box_m: float, off_s: float) -> tuple[PoseTrack, float]:
    """Somebody on a box who puts the left foot forward, drops, and lands on both; landing time."""
    falls_s = float(np.sqrt(2 * box_m / STANDARD_GRAVITY_MPS2))
    since_s = np.clip(time_s - off_s, 0.0, falls_s)
    body = moved(standing(time_s), up_m=box_m - STANDARD_GRAVITY_MPS2 * since_s**2 / 2)
    ahead_m = 0.35 * ramp(time_s, off_s - 0.4, off_s)
    over_m = 0.08 * ramp(time_s, off_s - 0.4, off_s - 0.1)
    over_m *= 1 - ramp(time_s, off_s, off_s + falls_s)
    stepped = foot_moved(body, "left", up_m=over_m, right_m=ahead_m)
    follows_m = 0.35 * ramp(time_s, off_s, off_s + falls_s)
    return foot_moved(stepped, "right", up_m=0 * time_s, right_m=follows_m), off_s + falls_s


def walk_towards_camera(
    time_s: Floats, track: PoseTrack, *, start_s: float, steps: int, step_down_m: float
) -> PoseTrack:
    """The same figure after steps that bring it nearer: each foot's floor sinks in the picture."""
    step_s = 0.5
    ways = {"left": np.zeros_like(time_s), "right": np.zeros_like(time_s)}
    lifts = {"left": np.zeros_like(time_s), "right": np.zeros_like(time_s)}
    for number in range(steps):
        foot = "left" if number % 2 == 0 else "right"
        from_s = start_s + number * step_s
        share = 1.0 if number in (0, steps - 1) else 2.0  # the feet end side by side
        ways[foot] += share * step_down_m * ramp(time_s, from_s, from_s + 0.8 * step_s)
        lifts[foot] += 0.12 * bump(time_s, from_s, from_s + 0.8 * step_s)
    middle = (ways["left"] + ways["right"]) / 2
    nearer = moved(track, up_m=-middle)
    left = foot_moved(nearer, "left", up_m=middle - ways["left"] + lifts["left"])
    return foot_moved(left, "right", up_m=middle - ways["right"] + lifts["right"])
