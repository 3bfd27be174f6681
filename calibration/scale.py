"""Metres per pixel at the athlete: from a stature, a marked length, or the fall in flight."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from calibration.clock_odds import ASSUMED_STATURE_M
from calibration.falls import Fall
from calibration.gravity import STANDARD_GRAVITY_MPS2
from calibration.standing import StandingSettings, find_standing
from calibration.values import Estimate, Refused, Scale, TimeBase

Floats = NDArray[np.float64]

ASSUMED_STATURE = Estimate(ASSUMED_STATURE_M, 0.10)
"""Where nobody gave one: good for the clock only, never for a length in the report."""
NOSE_SHARE = 0.895
"""Height of the pose model's nose above its lower heel point over stature, standing: measured on
37 drawn clips (0.895, SD 0.018; more from the front). Plausible for people: eye height 0.936 and
chin 0.870 of stature (Drillis and Contini 1966, from memory), less the heel point's own height."""
NOSE_SHARE_SIGMA = 0.02
STATURE_SIGMA_M = 0.01
"""Of a stature measured at home, and of shoes."""
CLICK_SIGMA_PX = 1.0


def scale_from_stature(
    nose_px: Floats,
    heels_px: Floats,
    *,
    stature_m: Estimate | float,
    settings: StandingSettings | None = None,
) -> Scale | Refused:
    """Scale from the athlete standing upright.

    Parameters
    ----------
    nose_px : ndarray of shape (T, 2)
        Nose in the upright picture, y down; NaN where not seen.
    heels_px : ndarray of shape (T, 2, 2)
        Both heels.
    stature_m : Estimate or float
        A plain number counts as measured to 1 cm.
    settings : StandingSettings, optional

    Returns
    -------
    Scale or Refused
        Refused where the athlete never stands upright and still.

    Notes
    -----
    m_per_px = 0.895 stature / height of the nose above the lower heel. *When this is wrong*: a
    camera that looks steeply down shortens the athlete, and one that stands nearer than the jump
    reads too tall by distance moved over distance to the camera.
    """
    stature = stature_m if isinstance(stature_m, Estimate) else Estimate(stature_m, STATURE_SIGMA_M)
    if not 0.8 <= stature.value <= 2.4:
        raise ValueError(f"stature_m: expected 0.8 to 2.4, got {stature.value}")
    standing = find_standing(nose_px, heels_px, settings=settings)
    if isinstance(standing, Refused):
        return standing
    m_per_px = NOSE_SHARE * stature.value / standing.height_px
    relative = math.sqrt(
        (stature.sigma / stature.value) ** 2
        + (NOSE_SHARE_SIGMA / NOSE_SHARE) ** 2
        + (standing.height_sigma_px / standing.height_px) ** 2
    )
    return Scale(m_per_px, m_per_px * relative, source="stature")


def scale_from_reference(
    first_px: Floats,
    second_px: Floats,
    *,
    length_m: float,
    depth_doubt: float,
    click_sigma_px: float = CLICK_SIGMA_PX,
) -> Scale:
    """Scale from a known length marked in the picture at the athlete's distance.

    Parameters
    ----------
    first_px, second_px : ndarray of shape (2,)
        Its ends in the upright picture.
    length_m : float
    depth_doubt : float
        Doubt of how much nearer or farther than the athlete it lies, over the distance to the
        camera: 0.05 for 0.2 m at 4 m. An object nearer by d at distance D reads D / (D - d)
        times too long.
    click_sigma_px : float
        Doubt of each end.

    Returns
    -------
    Scale
    """
    distance_px = float(np.hypot(*(np.asarray(second_px) - np.asarray(first_px))))
    if not (length_m > 0 and math.isfinite(length_m)):
        raise ValueError(f"length_m: expected > 0, got {length_m}")
    if not distance_px > 4 * click_sigma_px:
        raise ValueError(f"second_px: expected well apart from first_px, got {distance_px:.1f} px")
    if not 0 <= depth_doubt < 1:
        raise ValueError(f"depth_doubt: expected 0 to 1, got {depth_doubt}")
    m_per_px = length_m / distance_px
    relative = math.hypot(math.sqrt(2) * click_sigma_px / distance_px, depth_doubt)
    return Scale(m_per_px, m_per_px * relative, source="reference")


def scale_from_gravity(
    falls: tuple[Fall, ...],
    *,
    time_base: TimeBase,
    gravity_mps2: float = STANDARD_GRAVITY_MPS2,
    body_model_m: float = 0.006,
    method_sigma: float = 0.056,
) -> Scale | Refused:
    """Scale from the fall of the centre of mass, where the clock is known without it.

    Parameters
    ----------
    falls : tuple of Fall
    time_base : TimeBase
        Its clock must not rest on a scale: a note in the file or a person's word. One that
        gravity decided with the stature gives the stature back.
    gravity_mps2 : float
    body_model_m : float
        Bend that limbs add to the path of the centre of mass, as a height.
    method_sigma : float
        Relative doubt common to all flights: perspective and body model.

    Returns
    -------
    Scale or Refused

    Notes
    -----
    m_per_px = g / a, with a in pixels per real second squared (Bieler et al. 2019,
    arXiv:1909.02211: stature to 4 cm at best).
    """
    if time_base.refusal is not None:
        return time_base.refusal
    scales, sigmas = [], []
    for fall in (fall for fall in falls if fall.is_parabola):
        seen_px = fall.fall_px_per_file_s2 * time_base.file_s_per_s**2
        own = fall.fall_sigma_px_per_file_s2 / fall.fall_px_per_file_s2
        arc_m = gravity_mps2 * (fall.duration_file_s / time_base.file_s_per_s) ** 2 / 8
        scales.append(gravity_mps2 / seen_px)
        sigmas.append(math.hypot(own, body_model_m / arc_m))
    if not scales:
        return Refused(
            what="scale", reason="No flight shows a clear fall.",
            hint="Give the athlete's stature or mark a known length.",
        )  # fmt: skip
    weights = 1 / np.square(sigmas)
    m_per_px = float(weights @ np.array(scales) / weights.sum())
    relative = math.hypot(1 / math.sqrt(weights.sum()), method_sigma)
    return Scale(m_per_px, m_per_px * relative, source="gravity")


def reconcile_scales(scales: list[Scale], *, largest_sigmas: float = 3.0) -> Scale | Refused:
    """Choose the best of several scales, if they agree.

    Parameters
    ----------
    scales : list of Scale
        Independent ones. A scale from gravity is independent only of a clock that gravity did
        not decide with another scale of this list.
    largest_sigmas : float
        Farther apart, in their joint sigma, they contradict each other.

    Returns
    -------
    Scale or Refused
        The one with the smallest relative sigma: the errors are not all independent, so a mean
        would claim too much.

    Raises
    ------
    ValueError
        For an empty list.
    """
    if not scales:
        raise ValueError("scales: expected at least one, got none")
    ordered = sorted(scales, key=lambda scale: scale.m_per_px_sigma / scale.m_per_px)
    best = ordered[0]
    for other in ordered[1:]:
        doubt = math.hypot(
            best.m_per_px_sigma / best.m_per_px, other.m_per_px_sigma / other.m_per_px
        )
        apart = math.log(other.m_per_px / best.m_per_px)
        if abs(apart) > largest_sigmas * doubt:
            return Refused(
                what="scale",
                reason=f"The {other.source} makes a pixel {math.exp(apart):.2f} times as large "
                f"as the {best.source} does.",
                hint="Check the stature and the marked length for a typing mistake.",
            )
    return best
