"""How knees, trunk and stance look at a landing, seen from the front."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.landing.scene import Landing
from measure.types import FEET, FOOT_LANDMARKS, Estimate, Floats, Foot, Landmark, Refused

__all__ = ["Frontal", "FrontalSettings", "measure_frontal"]


@dataclass(frozen=True, slots=True)
class FrontalSettings:
    """Doubts, one standard deviation each, and what counts as the deepest point."""

    knee_sigma_deg: float = 3.8
    """The model draws bent knees inwards by up to 8 degrees in drawn figures; carried, not
    corrected."""
    separation_sigma_ratio: float = 0.08
    knees_meet_statures: float = 0.09
    """Knee joints nearer to each other than this begin to hide each other, and the model draws
    the ankles together as well. Where they meet, the doubt grows by:"""
    meeting_sigma_deg: float = 12.0
    meeting_sigma_ratio: float = 0.6
    foot_share: float = 0.7
    """How much the foot's place under the ankle counts against the model's ankle itself."""
    ankle_from_heel: float = 0.3
    """Where the ankle stands on the way from heel to toe, sideways in the picture."""
    side_lean_sigma_deg: float = 3.0
    """The phone may lean by this without anybody noticing."""
    stance_sigma_ratio: float = 0.12
    deepest_share: float = 0.04
    """Rows whose hips are within this share of the trunk's length of the lowest are deepest."""


@dataclass(frozen=True, slots=True)
class Frontal:
    """A landing from the front; angles and widths in the picture."""

    knee_angle_deg: Mapping[Foot, Estimate]
    """Positive where the knee is inside the line from hip to ankle, at the deepest point."""
    separation_ratio: Estimate | None
    """Knee to knee over ankle to ankle at the deepest point; below 1 the knees are closer."""
    side_lean_deg: Estimate
    """Trunk at first contact, positive towards the athlete's left."""
    stance_ratio: Estimate | None
    """Ankle to ankle over shoulder to shoulder at first contact."""


def measure_frontal(
    landing: Landing, *, settings: FrontalSettings | None = None
) -> Frontal | Refused:
    """Frontal knee angle, knee separation, trunk side lean and stance width.

    Parameters
    ----------
    landing : Landing
    settings : FrontalSettings, optional

    Returns
    -------
    Frontal or Refused
        Refused where the landing is not seen from the front (or from behind).

    Notes
    -----
    *When this is wrong*: the frontal knee angle is a projection, not an abduction of the joint. A
    leg bent by F and turned inwards by psi shows 2 atan(tan(F/2) sin psi) with no abduction at
    all: 11.45 degrees for 60 and 10.
    """
    settings = settings or FrontalSettings()
    if not landing.view_is("front"):
        return Refused(
            "landing frontal",
            "The landing is not seen from the front, so knees inside do not show.",
            "Film square from the front to measure knees, stance and side lean.",
        )  # fmt: skip
    rows = _deepest_rows(landing, settings)
    at_contact = landing.rows(landing.landing_s - 0.03, landing.landing_s + 0.05)
    lean = _at(side_lean_deg(landing), at_contact, settings.side_lean_sigma_deg)
    if rows.size == 0 or lean is None or not _feet_are_inside(landing, rows):
        return Refused(
            "landing frontal", "The legs are not seen at the landing.",
            "Keep the whole body in the picture through the landing.",
        )  # fmt: skip
    on_both = len(landing.landed_feet) == 2
    meeting = _meeting_share(landing, rows, settings) if on_both else 0.0
    knee_sigma_deg = float(np.hypot(settings.knee_sigma_deg, meeting * settings.meeting_sigma_deg))
    ratio_sigma = float(
        np.hypot(settings.separation_sigma_ratio, meeting * settings.meeting_sigma_ratio)
    )
    angles = {
        foot: _at(_knee_angle_deg(landing, foot, settings), rows, knee_sigma_deg)
        for foot in landing.landed_feet
    }
    return Frontal(
        {foot: angle for foot, angle in angles.items() if angle is not None},
        _at(_separation_ratio(landing, settings), rows, ratio_sigma) if on_both else None,
        lean,
        _at(_stance_ratio(landing, settings), at_contact, settings.stance_sigma_ratio)
        if on_both else None,
    )


def side_lean_deg(landing: Landing) -> Floats:
    """Lean of the trunk in the picture, positive towards the athlete's left, shape (T,)."""
    px = landing.track.px
    shoulders = px[:, [Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]]
    trunk = shoulders.mean(axis=1) - landing.hips_px()
    lean: Floats = np.degrees(np.arctan2(_left_of_picture(landing) * trunk[:, 0], -trunk[:, 1]))
    return lean


def _left_of_picture(landing: Landing) -> Floats:
    """1 in rows where the athlete's left is at greater x, -1 where she is seen from behind."""
    px = landing.track.px
    width = sum(
        px[:, left, 0] - px[:, right, 0]
        for left, right in ((Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER),
                            (Landmark.LEFT_HIP, Landmark.RIGHT_HIP))
    )  # fmt: skip
    return np.sign(np.asarray(width, dtype=np.float64))


def _deepest_rows(landing: Landing, settings: FrontalSettings) -> NDArray[np.int64]:
    """Rows about the deepest point; the hips turn slowly there and pose does not say when."""
    deepest = landing.deepest_row()
    if deepest is None:
        return np.empty(0, dtype=np.int64)
    rows = landing.absorbing_rows()
    px = landing.track.px[deepest]
    shoulders = px[[Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER]].mean(axis=0)
    depth_px = landing.hips_px()[:, 1]
    trunk_px = float(np.hypot(*(shoulders - landing.hips_px()[deepest])))
    is_deep = depth_px[rows] >= depth_px[deepest] - settings.deepest_share * trunk_px
    # Only the stretch that holds the lowest row: she may crouch again later.
    gaps = rows[~is_deep]
    first = gaps[gaps < deepest].max(initial=rows[0] - 1)
    last = gaps[gaps > deepest].min(initial=rows[-1] + 1)
    return np.asarray(rows[(rows > first) & (rows < last)], dtype=np.int64)


def _meeting_share(
    landing: Landing, rows: NDArray[np.int64], settings: FrontalSettings
) -> float:
    """How much the knees hide each other, 0 to 1."""
    px = landing.track.px[rows]
    apart = np.hypot(*(px[:, Landmark.LEFT_KNEE] - px[:, Landmark.RIGHT_KNEE]).T)
    share = float(np.nanmedian(apart)) / landing.stature_px / settings.knees_meet_statures
    return float(np.clip(1 - share, 0.0, 1.0))


def _ankle_px(landing: Landing, foot: Foot, settings: FrontalSettings) -> Floats:
    """Place of the ankle: the model's own, and where it stands over the foot."""
    marks, px = FOOT_LANDMARKS[foot], landing.track.px
    heel, toe, q = px[:, marks.heel, 0], px[:, marks.toe, 0], settings.ankle_from_heel
    ankle = px[:, marks.ankle].copy()
    over_foot = (1 - q) * heel + q * toe
    ankle[:, 0] = (1 - settings.foot_share) * ankle[:, 0] + settings.foot_share * over_foot
    return ankle


def _knee_angle_deg(landing: Landing, foot: Foot, settings: FrontalSettings) -> Floats:
    marks = FOOT_LANDMARKS[foot]
    px = landing.track.px
    thigh = px[:, marks.knee] - px[:, marks.hip]
    shank = _ankle_px(landing, foot, settings) - px[:, marks.knee]
    across = thigh[:, 0] * shank[:, 1] - thigh[:, 1] * shank[:, 0]
    outwards = np.degrees(np.arctan2(across, np.sum(thigh * shank, axis=1)))
    inside_sign = -_left_of_picture(landing) * (1.0 if foot == "left" else -1.0)
    angle: Floats = inside_sign * outwards
    return angle


def _separation_ratio(landing: Landing, settings: FrontalSettings) -> Floats:
    px = landing.track.px
    left, right = (_ankle_px(landing, foot, settings) for foot in FEET)
    knees = np.hypot(*(px[:, Landmark.LEFT_KNEE] - px[:, Landmark.RIGHT_KNEE]).T)
    return _ratio(knees, np.hypot(*(left - right).T))


def _stance_ratio(landing: Landing, settings: FrontalSettings) -> Floats:
    px = landing.track.px
    left, right = (_ankle_px(landing, foot, settings) for foot in FEET)
    shoulders = np.abs(px[:, Landmark.LEFT_SHOULDER, 0] - px[:, Landmark.RIGHT_SHOULDER, 0])
    return _ratio(np.abs(left[:, 0] - right[:, 0]), shoulders)


def _ratio(above: Floats, below: Floats) -> Floats:
    ratio: Floats = np.where(below > 1.0, above / np.where(below > 1.0, below, 1.0), np.nan)
    return ratio


def _at(values: Floats, rows: NDArray[np.int64], sigma: float) -> Estimate | None:
    """Median over some rows, with their spread in the doubt."""
    seen = values[rows][np.isfinite(values[rows])]
    if seen.size == 0:
        return None
    return Estimate(float(np.median(seen)), float(np.hypot(sigma, seen.std())))


def _feet_are_inside(landing: Landing, rows: NDArray[np.int64]) -> bool:
    ankles = [FOOT_LANDMARKS[foot].ankle for foot in FEET if foot in landing.landed_feet]
    return bool(np.stack([landing.is_inside(mark)[rows] for mark in ankles]).mean() > 0.9)
