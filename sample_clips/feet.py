"""A foot in two hinged parts: how it meets the ground, rolls off it and swings to the next place.

A `Foot` is where the tip of the sole is and how the two parts are pitched. Pitch is positive with
the heel up. On the ground the tip is held while the heel is up or the foot is flat, the heel while
the toes are up, so that no part ever goes below the ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_clips.body import Body
from sample_clips.curves import Floats, MassPath, smooth_step

NEVER_S = np.inf


@dataclass(frozen=True)
class Foot:
    """One foot over time; every field has one entry per time."""

    tip_m: Floats
    yaw_rad: Floats
    rear_rad: Floats
    toes_rad: Floats

    def points_m(self, body: Body) -> dict[str, Floats]:
        """Places of ball, heel (lower edge), ankle and the axes of both parts, (T, 3) each."""
        ahead = np.stack(
            [np.sin(self.yaw_rad), np.zeros_like(self.yaw_rad), np.cos(self.yaw_rad)], -1
        )
        toes, toes_up = _pitched(ahead, self.toes_rad)
        rear, rear_up = _pitched(ahead, self.rear_rad)
        ball = self.tip_m - body.toes_m * toes
        heel = ball - body.rear_foot_m * rear
        return {
            "tip": self.tip_m, "ball": ball, "heel_edge": heel,
            "ankle": heel + body.ankle_ahead_m * rear + body.ankle_above_m * rear_up,
            "toe": self.tip_m - body.shoe_margin_m * toes
            + (0.01 * body.stature_m + body.sole_m) * toes_up,
            "heel": heel + body.shoe_margin_m * rear
            + (0.012 * body.stature_m + body.sole_m) * rear_up,
            "rear_axis": rear, "rear_up": rear_up, "toes_axis": toes, "toes_up": toes_up,
        }  # fmt: skip


def _pitched(ahead: Floats, pitch_rad: Floats) -> tuple[Floats, Floats]:
    up = np.array([0.0, 1.0, 0.0])
    cosine, sine = np.cos(pitch_rad)[:, None], np.sin(pitch_rad)[:, None]
    return cosine * ahead - sine * up, sine * ahead + cosine * up


@dataclass(frozen=True)
class Meeting:
    """How a foot comes down: pitches at the first touch and how long they take to go.

    Negative ``rear_rad`` is heel first, zero flat, positive forefoot first.
    """

    rear_rad: float = 0.0
    toes_rad: float = 0.0
    rear_s: float = 0.06
    toes_s: float = 0.02


@dataclass(frozen=True)
class Leaving:
    """How a foot goes: pitches at the last touch and how long before it they begin to grow."""

    rear_rad: float = 1.0
    toes_rad: float = 0.45
    rear_s: float = 0.16
    toes_s: float = 0.03
    lag_s: float = 0.006
    """Time constant with which the tip takes up the speed of the body after the last touch."""


@dataclass(frozen=True)
class Contact:
    """One stay of one foot on the ground (or on a box)."""

    start_s: float
    end_s: float
    tip_m: Floats
    """Tip of the sole while the foot is flat; its y is the ground's height."""
    yaw_rad: float = 0.0
    meeting: Meeting = Meeting()
    leaving: Leaving = Leaving()
    middle_rad: float = 0.0
    """Rear pitch in between: above 0 for hops in which the heel never comes down."""
    approach_mps: float = 0.0
    """Speed of the foot towards the body (up) just before the touch; negative: reaching down."""

    def place(self, time_s: Floats, body: Body) -> Foot:
        """Where the foot is at times within the contact."""
        came = time_s - self.start_s
        left = self.end_s - time_s
        meet, leave = self.meeting, self.leaving
        rear = self.middle_rad
        rear = rear + (meet.rear_rad - self.middle_rad) * _fading(came / meet.rear_s) ** 1.4
        rear = rear + (leave.rear_rad - self.middle_rad) * _fading(left / leave.rear_s) ** 1.6
        toes = meet.toes_rad * _fading(came / meet.toes_s)
        toes = toes + leave.toes_rad * _fading(left / leave.toes_s) ** 2
        toes = np.where(rear < 0, rear, toes)
        yaw = np.full(time_s.shape, self.yaw_rad)
        tip = np.broadcast_to(self.tip_m, (*time_s.shape, 3)).copy()
        ahead = np.array([np.sin(self.yaw_rad), 0.0, np.cos(self.yaw_rad)])
        on_heel = rear < 0
        heel = self.tip_m - body.foot_m * ahead
        axis, _ = _pitched(np.broadcast_to(ahead, tip.shape), rear)
        tip[on_heel] = (heel + body.foot_m * axis)[on_heel]
        return Foot(tip, yaw, rear, toes)


def _fading(share: Floats) -> Floats:
    return np.clip(1.0 - share, 0.0, 1.0)


@dataclass(frozen=True)
class Swing:
    """How a foot goes from one contact to the next."""

    lift_m: float = 0.0
    """How far the foot is drawn up in between, against a straight course relative to the body."""
    rear_rad: float = 0.5
    """Pitch of the rear part in mid-swing."""
    bend_rad: float = 0.1
    """How much the toes stay bent up against the rear part."""


def swing_foot(
    time_s: Floats, *, leave: Contact, land: Contact, swing: Swing, path: MassPath, body: Body
) -> Foot:
    """Place a foot between two contacts, relative to the centre of mass.

    At first the tip stays where it was and takes up the body's speed within ``leave.leaving.lag_s``
    (the toes unbend); at the end it comes down with the body's speed, less ``land.approach_mps``.
    """
    span = leave.end_s, land.start_s
    gone = time_s - span[0]
    duration = span[1] - span[0]
    u = np.clip(gone / duration, 0.0, 1.0)[:, None]
    ends = np.array(span)
    first = leave.place(ends[:1], body)
    last = land.place(ends[1:], body)
    masses, speeds = path.place_m(ends), path.velocity_mps(ends)
    lag = leave.leaving.lag_s
    kick = -speeds[0] * lag * (1 - np.exp(-np.clip(gone, 0, None) / lag))[:, None]
    full_kick = -speeds[0] * lag * (1 - np.exp(-duration / lag))
    begin, end = first.tip_m[0] - masses[0], last.tip_m[0] - masses[1]
    course = begin + kick + smooth_step(u) * (end - begin - full_kick)
    up = np.array([0.0, 1.0, 0.0])
    course = course + u**2 * (u - 1) * duration * land.approach_mps * up
    course = course + 64 * (u * (1 - u)) ** 3 * swing.lift_m * up
    rear, toes = _swing_pitches(gone, duration, first=first, last=last, swing=swing, lag=lag)
    yaw = first.yaw_rad + smooth_step(u[:, 0]) * (last.yaw_rad - first.yaw_rad)
    return Foot(path.place_m(time_s) + course, yaw, rear, toes)


def _swing_pitches(
    gone: Floats, duration: float, *, first: Foot, last: Foot, swing: Swing, lag: float
) -> tuple[Floats, Floats]:
    u = np.clip(gone / duration, 0.0, 1.0)
    to_middle, to_last = smooth_step(u / 0.55), smooth_step((u - 0.45) / 0.55)
    rear = first.rear_rad + (swing.rear_rad - first.rear_rad) * to_middle
    rear = rear + (last.rear_rad - swing.rear_rad) * to_last
    # The toes straighten quickly once they are free, and are set for the landing at the end.
    unbent = 1 - np.exp(-np.clip(gone, 0, None) / (2.5 * lag))
    bend0, bend1 = first.rear_rad - first.toes_rad, last.rear_rad - last.toes_rad
    bend = bend0 + (swing.bend_rad - bend0) * unbent
    bend = bend + (bend1 - bend) * smooth_step(u**2)
    return rear, rear - bend


def lowest_m(foot: Foot, body: Body) -> Floats:
    """Height of the lowest point of the sole, (T,)."""
    points = foot.points_m(body)
    low: Floats = np.min([points[name][:, 1] for name in ("tip", "ball", "heel_edge")], axis=0)
    return low
