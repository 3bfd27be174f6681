"""Whether a leg is followed well enough at a landing to read its angles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.landing.scene import Landing
from measure.types import FootLandmarks

__all__ = [
    "TrustSettings", "leg_is_followed", "measure_belief", "true_to_length",
    "where_it_stands",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class TrustSettings:
    """What a followed leg looks like."""

    seen_visibility: float = 0.65
    """A leg that the model believes in less is hidden behind the other one."""
    length_change_share: float = 0.25
    """A thigh or shank whose length in the picture is off by more is not this leg's."""
    strays_statures: float = 0.06
    """An ankle that seems to leave the place on which its foot stands by more is another's."""
    rolled_down_s: float = 0.1
    """So long after the contact the foot stands."""
    followed_share: float = 0.8
    """Of the rows of a landing that have to be so."""


def true_to_length(
    landing: Landing, marks: FootLandmarks, *, settings: TrustSettings | None = None
) -> NDArray[np.bool_]:
    """Tell in which rows thigh and shank are as long as in the whole clip.

    Parameters
    ----------
    landing : Landing
        Seen from the side, where a leg bends without getting shorter.
    marks : FootLandmarks
    settings : TrustSettings, optional

    Returns
    -------
    ndarray of shape (T,)
        False where the model takes another leg, of this or of another person, for this one, and
        where the leg is not seen.
    """
    settings = settings or TrustSettings()
    px = landing.track.px
    is_true = np.ones(px.shape[0], dtype=np.bool_)
    for upper, lower in ((marks.hip, marks.knee), (marks.knee, marks.ankle)):
        length_px = np.hypot(*(px[:, upper] - px[:, lower]).T)
        if not np.isfinite(length_px).any():
            return np.zeros(px.shape[0], dtype=np.bool_)
        off = np.abs(length_px / np.nanmedian(length_px) - 1)
        is_true &= off < settings.length_change_share
    return is_true


def where_it_stands(
    landing: Landing, marks: FootLandmarks, *, settings: TrustSettings | None = None
) -> NDArray[np.bool_]:
    """Tell in which rows an ankle is where its foot stands, as far as the foot stands at all.

    Parameters
    ----------
    landing : Landing
    marks : FootLandmarks
        Of a landed foot.
    settings : TrustSettings, optional

    Returns
    -------
    ndarray of shape (T,)
        True before the landing and after it was taken up; in between False where the model has
        moved a standing foot.
    """
    settings = settings or TrustSettings()
    stays = np.ones(landing.time_s.shape[0], dtype=np.bool_)
    rows = landing.absorbing_rows()
    rows = rows[landing.time_s[rows] > landing.landing_s + settings.rolled_down_s]
    ankle_px = landing.track.px[rows, marks.ankle]
    if landing.is_rebounded or not np.isfinite(ankle_px).any():
        return stays
    strays_px = np.hypot(*(ankle_px - np.nanmedian(ankle_px, axis=0)).T)
    stays[rows] = strays_px < settings.strays_statures * landing.stature_px
    return stays


def leg_is_followed(
    landing: Landing, marks: FootLandmarks, *, settings: TrustSettings | None = None
) -> bool:
    """Tell whether a leg is believed in, true to its length and inside the picture.

    Parameters
    ----------
    landing : Landing
    marks : FootLandmarks
    settings : TrustSettings, optional

    Returns
    -------
    bool
        Judged about first contact and while the landing is taken up.
    """
    settings = settings or TrustSettings()
    taken_up = landing.absorbing_rows()
    at_contact = landing.rows(landing.landing_s - 0.1, landing.landing_s + 0.1)
    if not (taken_up.size and at_contact.size):
        return False
    is_true = true_to_length(landing, marks, settings=settings)
    is_inside = landing.is_inside(marks.knee) & landing.is_inside(marks.heel)
    followed = min(
        rows_share
        for flags in (is_true, is_inside)
        for rows_share in (flags[taken_up].mean(), flags[at_contact].mean())
    )
    return bool(
        followed >= settings.followed_share
        and measure_belief(landing, marks) >= settings.seen_visibility
    )


def measure_belief(landing: Landing, marks: FootLandmarks) -> float:
    """Give how much the model believes in the less seen of knee and ankle, 0 to 1.

    Parameters
    ----------
    landing : Landing
    marks : FootLandmarks

    Returns
    -------
    float
        What three rows in four reach while the landing is taken up.
    """
    seen = landing.track.visibility[landing.absorbing_rows()][:, [marks.knee, marks.ankle]]
    return float(np.percentile(seen, 25, axis=0).min())
