"""The body as hinged segments: joint angles and the centre of mass, in the picture or in space."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from measure.segments import Sex, list_segments
from measure.types import Floats, Landmark, PoseTrack

# Which landmarks stand for an end (the mean of those seen). The ears straddle the head's centre
# of mass, so both ends of the head are given there.
_EARS = (Landmark.LEFT_EAR, Landmark.RIGHT_EAR)
_END_LANDMARKS: Mapping[str, tuple[Landmark, ...]] = {
    "vertex": _EARS,
    "neck": _EARS,
    "mid_shoulder": (Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER),
    "mid_hip": (Landmark.LEFT_HIP, Landmark.RIGHT_HIP),
    "left_shoulder": (Landmark.LEFT_SHOULDER,),
    "right_shoulder": (Landmark.RIGHT_SHOULDER,),
    "left_elbow": (Landmark.LEFT_ELBOW,),
    "right_elbow": (Landmark.RIGHT_ELBOW,),
    "left_wrist": (Landmark.LEFT_WRIST,),
    "right_wrist": (Landmark.RIGHT_WRIST,),
    "left_knuckle": (Landmark.LEFT_INDEX, Landmark.LEFT_PINKY),
    "right_knuckle": (Landmark.RIGHT_INDEX, Landmark.RIGHT_PINKY),
    "left_hip": (Landmark.LEFT_HIP,),
    "right_hip": (Landmark.RIGHT_HIP,),
    "left_knee": (Landmark.LEFT_KNEE,),
    "right_knee": (Landmark.RIGHT_KNEE,),
    "left_ankle": (Landmark.LEFT_ANKLE,),
    "right_ankle": (Landmark.RIGHT_ANKLE,),
    "left_heel": (Landmark.LEFT_HEEL,),
    "right_heel": (Landmark.RIGHT_HEEL,),
    "left_toe": (Landmark.LEFT_TOE,),
    "right_toe": (Landmark.RIGHT_TOE,),
}
# An unseen arm is taken to swing with the seen one; a leg is not, for one leg may be held up.
_SHARED_BY_SIDES = ("shoulder", "elbow", "wrist", "knuckle", "hip")


def joint_flexion_deg(*, proximal: Floats, joint: Floats, distal: Floats) -> Floats:
    """Angle by which a joint is bent from straight.

    Parameters
    ----------
    proximal, joint, distal : ndarray of shape (..., 2) or (..., 3)
        For a knee: hip, knee and ankle. Any unit, any axis directions.

    Returns
    -------
    ndarray of shape (...)
        Degrees, 0 for straight to 180; NaN where a point is not seen.

    Raises
    ------
    ValueError
        For points that are neither flat nor in space.

    Notes
    -----
    180 minus atan2(|a x b|, a . b), which stays exact near straight where acos does not.
    *When this is wrong*: in a picture the leg's plane has to lie along it. Turned by 20 degrees,
    a bend of 60 degrees shows as 57, one of 30 as 28.
    """
    first, second = proximal - joint, distal - joint
    if first.shape[-1] == 2:
        across = np.abs(first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0])
    elif first.shape[-1] == 3:
        across = np.linalg.norm(np.cross(first, second), axis=-1)
    else:
        raise ValueError(f"joint: expected a last axis of 2 or 3, got {first.shape[-1]}")
    along = np.sum(first * second, axis=-1)
    flexion: Floats = 180.0 - np.degrees(np.arctan2(across, along))
    return flexion


def centre_of_mass(ends: Mapping[str, Floats], *, sex: Sex | None = None) -> Floats:
    """Centre of mass of the whole body from the ends of its segments.

    Parameters
    ----------
    ends : mapping of str to ndarray of shape (..., D)
        ``vertex``, ``neck``, ``mid_shoulder``, ``mid_hip``, and for each side (``left_``,
        ``right_``) shoulder, elbow, wrist, knuckle, hip, knee, ankle, heel, toe.
    sex : {"female", "male"} or None
        Which of de Leva's tables; None for the mean of both.

    Returns
    -------
    ndarray of shape (..., D)
        In the unit and axes of the ends.

    Raises
    ------
    ValueError
        Naming every end that is missing.
    """
    segments = list_segments(sex)
    needed = {end for part in segments for end in (part.first_end, part.second_end)}
    if missing := sorted(needed - set(ends)):
        raise ValueError(f"ends: expected also {', '.join(missing)}")
    centres = [
        part.mass_fraction
        * (ends[part.first_end] * (1 - part.centre_fraction)
           + ends[part.second_end] * part.centre_fraction)
        for part in segments
    ]  # fmt: skip
    # The table's fractions are rounded: women's add up to 0.9999.
    centre: Floats = np.sum(centres, axis=0) / sum(part.mass_fraction for part in segments)
    return centre


def centre_of_mass_px(
    track: PoseTrack, *, sex: Sex | None = None, lowest_visibility: float = 0.0
) -> Floats:
    """Path of the centre of mass in the picture.

    Parameters
    ----------
    track : PoseTrack
    sex : {"female", "male"} or None
    lowest_visibility : float
        Arm and head points that the model itself believes in less than this count as unseen.

    Returns
    -------
    ndarray of shape (T, 2)
        Pixels, y down; NaN where a leg, both hips or both arms are not seen.

    Notes
    -----
    *When this is wrong*: an arm hidden behind the body is taken to be where the seen one is;
    what an athlete carries is not weighed.
    """
    px = track.px.copy()
    legs = range(Landmark.LEFT_HIP, Landmark.RIGHT_TOE + 1)
    doubtful = track.visibility < lowest_visibility
    doubtful[:, list(legs)] = False
    px[doubtful] = np.nan
    ends = {end: _mean_of_seen(px[:, list(marks)]) for end, marks in _END_LANDMARKS.items()}
    for part in _SHARED_BY_SIDES:
        left, right = ends[f"left_{part}"], ends[f"right_{part}"]
        ends[f"left_{part}"] = np.where(np.isfinite(left), left, right)
        ends[f"right_{part}"] = np.where(np.isfinite(right), right, left)
    return centre_of_mass(ends, sex=sex)


def _mean_of_seen(points: Floats) -> Floats:
    """Mean over axis 1 of the points that are seen, NaN where none is."""
    seen = np.isfinite(points)
    count = seen.sum(axis=1)
    total = np.where(seen, points, 0.0).sum(axis=1)
    mean: Floats = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean
