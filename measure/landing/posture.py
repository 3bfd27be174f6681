"""How the body is bent at a landing, seen from the side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from measure.body import joint_flexion_deg
from measure.landing.scene import FEET, Landing
from measure.types import (
    FOOT_LANDMARKS,
    Estimate,
    Floats,
    Foot,
    FootLandmarks,
    Landmark,
    Refused,
)

__all__ = ["Bend", "LegPosture", "Posture", "PostureSettings", "measure_posture"]


@dataclass(frozen=True, slots=True)
class PostureSettings:
    """The doubt of single-camera joint angles, degrees, one standard deviation.

    The model's hips lie some centimetres ahead of the joints in drawn figures, which makes knees
    read about 4, the trunk 3 and the hips 8 degrees too straight. Whether that holds for people
    is not known, so it is carried here and not taken away.
    """

    knee_contact_sigma_deg: float = 4.5
    knee_peak_sigma_deg: float = 5.0
    knee_change_sigma_deg: float = 4.0
    trunk_sigma_deg: float = 3.7
    trunk_change_sigma_deg: float = 2.5
    hip_sigma_deg: float = 8.5
    hip_change_sigma_deg: float = 5.0
    ankle_sigma_deg: float = 8.0
    ankle_change_sigma_deg: float = 6.0
    seen_visibility: float = 0.65
    """A leg that the model believes in less is hidden behind the other one."""
    length_changes_share: float = 0.3
    """A thigh or shank that changes by more is not followed."""
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
    trunk = _bend(
        landing, _trunk_lean_deg(landing, facing), landing.landing_s,
        _Doubt(settings.trunk_sigma_deg, settings.trunk_sigma_deg,
               settings.trunk_change_sigma_deg, settings.pose_time_sigma_s),
    )  # fmt: skip
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


@dataclass(frozen=True, slots=True)
class _Doubt:
    contact_deg: float
    peak_deg: float
    change_deg: float
    time_s: float


def _measure_leg(
    landing: Landing, foot: Foot, facing: float, settings: PostureSettings
) -> LegPosture | Refused:
    marks = FOOT_LANDMARKS[foot]
    touchdown = landing.touchdown(foot)
    start = landing.flight.landing if touchdown is None else touchdown.start
    assert start is not None
    time_s = float(np.hypot(settings.pose_time_sigma_s, start.sigma_s))
    px = landing.track.px
    knee = _bend(
        landing, joint_flexion_deg(
            proximal=px[:, marks.hip], joint=px[:, marks.knee], distal=px[:, marks.ankle]
        ), start.time_s, _Doubt(settings.knee_contact_sigma_deg, settings.knee_peak_sigma_deg,
                                settings.knee_change_sigma_deg, time_s),
    )  # fmt: skip
    hip = _bend(
        landing, _hip_flexion_deg(landing, marks, facing), start.time_s,
        _Doubt(settings.hip_sigma_deg, settings.hip_sigma_deg, settings.hip_change_sigma_deg,
               time_s),
    )  # fmt: skip
    ankle = _bend(
        landing, _ankle_flexion_deg(landing, marks), start.time_s,
        _Doubt(settings.ankle_sigma_deg, settings.ankle_sigma_deg,
               settings.ankle_change_sigma_deg, time_s),
    )  # fmt: skip
    if knee is None or hip is None or ankle is None or not _is_seen(landing, marks, settings):
        return Refused(
            f"landing posture {foot} leg", f"The {foot} leg is hidden at the landing.",
            "Turn that side to the camera, or film from the front too.",
        )  # fmt: skip
    return LegPosture(knee, hip, ankle)


def _bend(
    landing: Landing, angle_deg: Floats, contact_s: float, doubt: _Doubt
) -> Bend | None:
    """Read an angle's path at contact and at its largest; None where it is not seen."""
    rows = landing.absorbing_rows()
    near = landing.rows(contact_s - 0.1, contact_s + 0.1)
    near = near[np.isfinite(angle_deg[near])]
    rows = rows[np.isfinite(angle_deg[rows])]
    if near.size < 2 or rows.size < 2:
        return None
    if not landing.time_s[near[0]] <= contact_s <= landing.time_s[near[-1]]:
        return None
    contact = float(np.interp(contact_s, landing.time_s[near], angle_deg[near]))
    peak = max(contact, float(angle_deg[rows].max()))
    timing_deg = _timing_sigma_deg(landing, angle_deg, contact_s, doubt)
    return Bend(
        Estimate(contact, float(np.hypot(doubt.contact_deg, timing_deg))),
        Estimate(peak, doubt.peak_deg),
        Estimate(peak - contact, float(np.hypot(doubt.change_deg, timing_deg))),
    )


def _timing_sigma_deg(
    landing: Landing, angle_deg: Floats, contact_s: float, doubt: _Doubt
) -> float:
    """Doubt from when the contact was, and from the kink that a straight line rounds off."""
    after = landing.rows(contact_s - 0.01, contact_s + 0.08)
    after = after[np.isfinite(angle_deg[after])]
    if after.size < 2:
        return 0.0
    time_s = landing.time_s[after]
    rate_deg_per_s = abs(float(np.polyfit(time_s, angle_deg[after], 1)[0]))
    interval_s = float(np.median(np.diff(landing.time_s)))
    # Between two rows the line lies off a kink by up to a quarter of the interval's change.
    return rate_deg_per_s * float(np.hypot(doubt.time_s, interval_s / 8))


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


def _is_seen(landing: Landing, marks: FootLandmarks, settings: PostureSettings) -> bool:
    """The model believes in the leg, it keeps its length, and it stands inside the picture."""
    rows = landing.absorbing_rows()
    seen = landing.track.visibility[rows][:, [marks.knee, marks.ankle]]
    is_inside = np.stack([landing.is_inside(mark)[rows] for mark in (marks.knee, marks.heel)])
    return bool(
        np.percentile(seen, 25) >= settings.seen_visibility
        and is_inside.mean() > 0.9
        and _keeps_length(landing, marks, settings)
    )


def _keeps_length(landing: Landing, marks: FootLandmarks, settings: PostureSettings) -> bool:
    """Thigh and shank at the landing are as long as in the whole clip.

    Where the model takes another person's or the other leg for this one they are not.
    """
    px = landing.track.px
    rows = landing.rows(landing.landing_s - 0.1, landing.landing_s + 0.1)
    for upper, lower in ((marks.hip, marks.knee), (marks.knee, marks.ankle)):
        length_px = np.hypot(*(px[:, upper] - px[:, lower]).T)
        usual_px = np.nanmedian(length_px)
        off = np.abs(length_px[rows] / usual_px - 1)
        if not np.nanmax(off, initial=0.0) < settings.length_changes_share:
            return False
    return True
