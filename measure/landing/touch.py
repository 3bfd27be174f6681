"""How the feet meet the ground: which first, by how much, and with which part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from measure.landing.scene import Landing
from measure.types import FOOT_LANDMARKS, Estimate, Foot, Refused

__all__ = ["FootLag", "TouchSettings", "measure_contact_part", "measure_foot_lag"]

ContactPart = Literal["toe", "heel", "flat"]


@dataclass(frozen=True, slots=True)
class TouchSettings:
    """What it takes to tell heel from toe."""

    slowest_hz: float = 100.0
    """A foot rolls down within 20 to 40 ms."""
    flat_within_deg: float = 4.0
    sure_beyond_deg: float = 10.0
    """Between the two the slope says nothing certain."""
    seen_visibility: float = 0.5


@dataclass(frozen=True, slots=True)
class FootLag:
    """The second foot after the first."""

    lag_s: Estimate
    first_foot: Foot | None
    """None where the doubt is larger than the lag."""


def measure_foot_lag(landing: Landing) -> FootLag | Refused:
    """Time from the first foot's contact to the second's.

    Parameters
    ----------
    landing : Landing

    Returns
    -------
    FootLag or Refused
        Refused where one foot's touchdown is missing or the feet cover each other. Never
        negative, so a lag of no length reads as about its own doubt.
    """
    if landing.flight.one_foot_hides_other:
        return Refused(
            "foot_lag_s", "One foot covers the other at the touchdown.",
            "Film from the front, both feet in the picture, at 120 pictures per second or more.",
        )  # fmt: skip
    starts = {}
    for foot in landing.landed_feet:
        touchdown = landing.touchdown(foot)
        if touchdown is not None and touchdown.start is not None:
            starts[foot] = touchdown.start
    if len(starts) < 2:
        return Refused(
            "foot_lag_s", "The touchdown of one foot was not measured, or only one foot landed.",
            "Film from the front, both feet in the picture, at 120 pictures per second or more.",
        )  # fmt: skip
    left, right = starts["left"], starts["right"]
    lag_s = right.time_s - left.time_s
    sigma_s = float(np.hypot(left.sigma_s, right.sigma_s))
    first: Foot | None = ("left" if lag_s > 0 else "right") if abs(lag_s) > sigma_s else None
    return FootLag(Estimate(abs(lag_s), sigma_s), first)


def measure_contact_part(
    landing: Landing, *, settings: TouchSettings | None = None
) -> ContactPart | Refused:
    """Tell whether the toes, the heel or the whole sole touch first.

    Parameters
    ----------
    landing : Landing
    settings : TouchSettings, optional

    Returns
    -------
    str or Refused
        Refused from the front, where the frame rate is too low or the foot is hidden.

    Notes
    -----
    The foot's slope at first contact against its slope when it stands flat half a second later.
    *When this is wrong*: soft ground, and landings held on the toes.
    """
    settings = settings or TouchSettings()
    rate_hz = 1 / float(np.median(np.diff(landing.time_s)))
    if not landing.view_is("side") or rate_hz < settings.slowest_hz or landing.is_rebounded:
        return Refused(
            "contact_part",
            "Heel or toe first shows only from the side, in enough pictures, once the foot has "
            "stood flat.",
            "Film square from the side at 120 pictures per second or more, and hold the landing.",
        )  # fmt: skip
    foot = _clearest_foot(landing)
    marks = FOOT_LANDMARKS[foot]
    sole = landing.track.px[:, marks.toe] - landing.track.px[:, marks.heel]
    heel_up_deg = np.degrees(np.arctan2(sole[:, 1], np.abs(sole[:, 0])))
    at_contact = landing.rows(landing.landing_s - 0.020, landing.landing_s + 0.004)
    flat = landing.rows(landing.landing_s + 0.2, min(landing.until_s, landing.landing_s + 0.7))
    visibility = landing.track.visibility[at_contact][:, [marks.heel, marks.toe]]
    if not (at_contact.size and flat.size) or visibility.min() < settings.seen_visibility:
        return Refused(
            "contact_part", "The foot is not seen from touchdown until it stands flat.",
            "Film square from the side, and hold the landing.",
        )  # fmt: skip
    tilt_deg = float(np.nanmedian(heel_up_deg[at_contact]) - np.nanmedian(heel_up_deg[flat]))
    if abs(tilt_deg) <= settings.flat_within_deg:
        return "flat"
    if abs(tilt_deg) < settings.sure_beyond_deg:
        return Refused(
            "contact_part", "The sole is neither clearly tilted nor clearly flat at first contact.",
            "Film closer, square from the side, at 240 pictures per second.",
        )  # fmt: skip
    return "toe" if tilt_deg > 0 else "heel"


def _clearest_foot(landing: Landing) -> Foot:
    rows = landing.absorbing_rows()

    def belief(foot: Foot) -> float:
        marks = FOOT_LANDMARKS[foot]
        return float(landing.track.visibility[rows][:, [marks.heel, marks.toe]].mean())

    return max(landing.landed_feet, key=belief)
