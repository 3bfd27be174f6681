"""How the body is bent at a landing, seen from the side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from measure.body import joint_flexion_deg
from measure.landing.scene import Landing
from measure.landing.trust import (
    leg_is_followed,
    measure_belief,
    true_to_length,
    where_it_stands,
)
from measure.types import (
    FEET,
    FOOT_LANDMARKS,
    Estimate,
    Floats,
    Foot,
    FootLandmarks,
    Instant,
    Landmark,
    Refused,
)

__all__ = ["Bend", "BendSigma", "LegPosture", "Posture", "PostureSettings", "measure_posture"]


_KINK_REACH_S, _KINK_WEIGHT = 0.05, 0.25


@dataclass(frozen=True, slots=True)
class BendSigma:
    """Doubt of one joint's angles, degrees, one standard deviation."""

    contact_deg: float
    peak_deg: float
    change_deg: float

    def times(self, factor: float) -> BendSigma:
        """Give the same doubt made larger."""
        return BendSigma(
            factor * self.contact_deg, factor * self.peak_deg, factor * self.change_deg
        )


@dataclass(frozen=True, slots=True)
class PostureSettings:
    """The doubt of single-camera joint angles.

    The model's hips lie some centimetres ahead of the joints in drawn figures, which makes the
    deepest knees read about 4, the trunk 3 and the hips up to 8 degrees too straight; knees at
    first contact read 3 too straight in one kind of figures and 4 too bent in another. Whether
    that holds for people is not known, so it is carried here and not taken away.
    """

    knee: BendSigma = BendSigma(4.0, 5.0, 5.5)
    trunk: BendSigma = BendSigma(3.3, 3.3, 2.2)
    hip: BendSigma = BendSigma(7.5, 7.5, 5.0)
    ankle: BendSigma = BendSigma(8.0, 8.0, 6.0)
    half_seen_visibility: float = 0.9
    """A leg that the model believes in less is partly behind the other one ..."""
    half_seen_factor: float = 1.6
    """... and its doubt is so much larger."""
    pose_time_sigma_s: float = 0.004
    """By how much poses lag or lead their pictures."""


@dataclass(frozen=True, slots=True)
class Bend:
    """One joint over a landing, degrees of flexion from straight."""

    contact_deg: Estimate
    """At first contact."""
    peak_deg: Estimate
    """Largest while the landing is taken up."""
    change_deg: Estimate
    """From contact to peak; errors that both share cancel."""


@dataclass(frozen=True, slots=True)
class LegPosture:
    """One leg that is seen well enough."""

    knee: Bend
    hip: Bend
    ankle: Bend
    """Positive where the toes are drawn up (dorsiflexion), 0 at a right angle."""


@dataclass(frozen=True, slots=True)
class Posture:
    """Trunk and legs at one landing."""

    trunk: Bend
    """Mid-hip to mid-shoulder against the vertical, forward positive."""
    legs: Mapping[Foot, LegPosture]
    refusals: tuple[Refused, ...]
    """Legs that the picture does not show."""


def measure_posture(
    landing: Landing, *, settings: PostureSettings | None = None
) -> Posture | Refused:
    """Knee, hip and ankle flexion and trunk lean, at first contact and at their largest.

    Parameters
    ----------
    landing : Landing
    settings : PostureSettings, optional

    Returns
    -------
    Posture or Refused
        Refused where the landing is not seen from the side.

    Notes
    -----
    Angles in the picture: a leg turned by 20 degrees out of it reads 60 as 57. Published error of
    one camera against marker-based systems: knee about 6 degrees, hip 4 in walking, ankle 7
    (Stenum, Rossi and Roemmich 2021, doi:10.1371/journal.pcbi.1008935), more in fast landings.
    Differences within one clip are better than absolute values.
    """
    settings = settings or PostureSettings()
    if not landing.view_is("side"):
        return Refused(
            "landing posture", "The landing is not seen from the side, so bends do not show.",
            "Film square from the side to measure knee, hip and ankle bend and trunk lean.",
        )  # fmt: skip
    facing = _facing(landing)
    touchdown = _blurred(landing.flight.landing, settings)
    trunk = _bend(landing, _trunk_lean_deg(landing, facing), touchdown, settings.trunk)
    if trunk is None:
        return Refused(
            "landing posture", "Hips or shoulders are not seen at the landing.",
            "Keep the whole body in the picture through the landing.",
        )  # fmt: skip
    legs: dict[Foot, LegPosture] = {}
    refusals = []
    for foot in landing.landed_feet:
        leg = _measure_leg(landing, foot, facing, settings)
        if isinstance(leg, Refused):
            refusals.append(leg)
        else:
            legs[foot] = leg
    return Posture(trunk, legs, tuple(refusals))


def _measure_leg(
    landing: Landing, foot: Foot, facing: float, settings: PostureSettings
) -> LegPosture | Refused:
    marks = FOOT_LANDMARKS[foot]
    contact = landing.touchdown(foot)
    start = None if contact is None else contact.start
    touchdown = _blurred(start or landing.flight.landing, settings)
    if not leg_is_followed(landing, marks):
        return _hidden(foot)
    is_true = true_to_length(landing, marks) & where_it_stands(landing, marks)
    px = landing.track.px
    is_half_seen = measure_belief(landing, marks) < settings.half_seen_visibility
    factor = settings.half_seen_factor if is_half_seen else 1.0
    knee_deg = joint_flexion_deg(
        proximal=px[:, marks.hip], joint=px[:, marks.knee], distal=px[:, marks.ankle]
    )
    knee, hip, ankle = (
        _bend(landing, np.where(is_true, angle_deg, np.nan), touchdown, sigma.times(factor))
        for angle_deg, sigma in (
            (knee_deg, settings.knee),
            (_hip_flexion_deg(landing, marks, facing), settings.hip),
            (_ankle_flexion_deg(landing, marks), settings.ankle),
        )
    )
    if knee is None or hip is None or ankle is None:
        return _hidden(foot)
    return LegPosture(knee, hip, ankle)


def _hidden(foot: Foot) -> Refused:
    return Refused(
        f"landing posture {foot} leg", f"The {foot} leg is hidden at the landing.",
        "Turn that side to the camera, or film from the front too.",
    )  # fmt: skip


def _blurred(touchdown: Instant, settings: PostureSettings) -> Instant:
    """Give a touchdown the doubt of when the poses show it."""
    sigma_s = float(np.hypot(settings.pose_time_sigma_s, touchdown.sigma_s))
    return Instant(touchdown.time_s, sigma_s)


def _bend(
    landing: Landing, angle_deg: Floats, touchdown: Instant, sigma: BendSigma
) -> Bend | None:
    """Read an angle's path at contact and at its largest; None where it is not seen."""
    rows, contact_s = landing.absorbing_rows(), touchdown.time_s
    near = landing.rows(contact_s - 0.1, contact_s + 0.1)
    near = near[np.isfinite(angle_deg[near])]
    rows = rows[np.isfinite(angle_deg[rows])]
    if near.size < 2 or rows.size < 2:
        return None
    if not landing.time_s[near[0]] <= contact_s <= landing.time_s[near[-1]]:
        return None
    contact = _at_kink(landing.time_s[near] - contact_s, angle_deg[near])
    peak = max(contact, float(angle_deg[rows].max()))
    timing_deg = _timing_sigma_deg(landing, angle_deg, touchdown)
    return Bend(
        Estimate(contact, float(np.hypot(sigma.contact_deg, timing_deg))),
        Estimate(peak, sigma.peak_deg),
        Estimate(peak - contact, float(np.hypot(sigma.change_deg, timing_deg))),
    )


def _at_kink(since_s: Floats, angle_deg: Floats) -> float:
    """Read an angle at first contact, where it turns sharply.

    A straight line between two rows rounds the turn off and reads too bent; two straight lines
    that meet at the contact take the poses' own smoothing for bending and read too straight.
    A mean that leans to the first is good to within what two kinds of drawn figures differ by.
    """
    line = float(np.interp(0.0, since_s, angle_deg))
    reach_s = max(_KINK_REACH_S, 2.1 * float(np.median(np.diff(since_s))))
    rows = np.abs(since_s) <= reach_s
    before, after = rows & (since_s < 0), rows & (since_s >= 0)
    if min(before.sum(), after.sum()) < 2:
        return line
    basis = np.stack(
        [np.ones(rows.sum()), np.minimum(since_s[rows], 0), np.maximum(since_s[rows], 0)], axis=1
    )
    kink = float(np.linalg.lstsq(basis, angle_deg[rows], rcond=None)[0][0])
    return (1 - _KINK_WEIGHT) * line + _KINK_WEIGHT * kink


def _timing_sigma_deg(landing: Landing, angle_deg: Floats, touchdown: Instant) -> float:
    """Doubt from when the contact was, and from the kink that a straight line rounds off."""
    after = landing.rows(touchdown.time_s - 0.01, touchdown.time_s + 0.08)
    after = after[np.isfinite(angle_deg[after])]
    if after.size < 2:
        return 0.0
    time_s = landing.time_s[after]
    rate_deg_per_s = abs(float(np.polyfit(time_s, angle_deg[after], 1)[0]))
    interval_s = float(np.median(np.diff(landing.time_s)))
    # Between two rows the line lies off a kink by up to a quarter of the interval's change.
    return rate_deg_per_s * float(np.hypot(touchdown.sigma_s, interval_s / 8))


def _facing(landing: Landing) -> float:
    """1 where the athlete faces the right edge of the picture, -1 for the left one."""
    marks = [FOOT_LANDMARKS[foot] for foot in FEET]
    px = landing.track.px[landing.absorbing_rows()]
    ahead_px = sum(px[:, leg.toe, 0] - px[:, leg.heel, 0] for leg in marks)
    return 1.0 if float(np.nanmedian(ahead_px)) >= 0 else -1.0


def _trunk_px(landing: Landing) -> Floats:
    shoulders = landing.track.px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]]
    trunk: Floats = shoulders.mean(axis=1) - landing.hips_px()
    return trunk


def _trunk_lean_deg(landing: Landing, facing: float) -> Floats:
    trunk = _trunk_px(landing)
    lean: Floats = np.degrees(np.arctan2(facing * trunk[:, 0], -trunk[:, 1]))
    return lean


def _hip_flexion_deg(landing: Landing, marks: FootLandmarks, facing: float) -> Floats:
    """Between trunk and thigh, negative where the thigh is behind the trunk's line."""
    trunk = _trunk_px(landing)
    thigh = landing.track.px[:, marks.knee] - landing.track.px[:, marks.hip]
    thigh_deg = np.degrees(np.arctan2(facing * thigh[:, 0], thigh[:, 1]))
    flexion: Floats = thigh_deg + np.degrees(np.arctan2(facing * trunk[:, 0], -trunk[:, 1]))
    return flexion


def _ankle_flexion_deg(landing: Landing, marks: FootLandmarks) -> Floats:
    px = landing.track.px
    sole = px[:, marks.toe] - px[:, marks.heel]
    # The bend between foot and shank, with the foot moved to the ankle: 90 at a right angle.
    flexion: Floats = joint_flexion_deg(
        proximal=px[:, marks.knee], joint=px[:, marks.ankle], distal=px[:, marks.ankle] + sole
    ) - 90.0
    return flexion
