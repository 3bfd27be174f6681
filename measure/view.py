"""From where the athlete is filmed: side, front or oblique, from the pose itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measure.heading import mean_heading, measure_headings
from measure.types import Floats, PoseTrack, Refused, View

__all__ = ["SeenView", "ViewSettings", "assess_view"]


@dataclass(frozen=True, slots=True)
class ViewSettings:
    """How far from square a camera may stand, and how much of the athlete has to be seen."""

    front_within_deg: float = 28.0
    """A line of the body turned by this out of the picture still shows at 88 % of its width."""
    side_within_deg: float = 25.0
    """A leg bent by 60 degrees shows as 55 from here (54.6)."""
    seen_share: float = 0.3
    disagree_deg: float = 14.0
    """Where shoulders, hips and ears disagree by more (usually 3 to 7), the poses are too poor to
    call a view square."""


@dataclass(frozen=True, slots=True)
class SeenView:
    """The view and the heading it was judged by."""

    view: View
    heading_deg: float
    """0 facing the camera, 90 turned to her left (facing the right edge), 180 from behind."""
    sigma_deg: float

    @property
    def from_behind(self) -> bool:
        """The athlete's back is towards the camera."""
        return abs(self.heading_deg) > 90


def assess_view(
    track: PoseTrack, *, time_s: Floats, start_s: float = -np.inf, end_s: float = np.inf,
    settings: ViewSettings | None = None,
) -> SeenView | Refused:  # fmt: skip
    """Tell from where the athlete is filmed during a part of the clip.

    Parameters
    ----------
    track : PoseTrack
        Cleaned.
    time_s : ndarray of shape (T,)
        Real time of the track's rows.
    start_s, end_s : float
        Part of the clip to judge, the whole of it unless told. A turning jump has another view
        after each landing.
    settings : ViewSettings, optional

    Returns
    -------
    SeenView or Refused
        Refused where the body is hardly seen.

    Notes
    -----
    Filmed from behind counts as front. The model draws headings towards square, so the bands
    are wide; between them, near 30 and 60 degrees, the word is a matter of taste and ``sigma_deg``
    says so.
    """
    settings = settings or ViewSettings()
    headings = measure_headings(track)[(time_s >= start_s) & (time_s <= end_s)]
    of_rows = mean_heading(headings[:, :3])
    seen = np.isfinite(of_rows)
    if not seen.any() or seen.mean() < settings.seen_share:
        return Refused(
            "view", "Shoulders and hips are hardly seen.", "Film the whole body, square to it."
        )
    mean_deg = float(mean_heading(np.exp(1j * np.radians(of_rows[seen]))))
    cues_deg = mean_heading(np.moveaxis(headings[seen, :3], 0, -1))
    spread_deg = float(np.std((cues_deg - mean_deg + 180) % 360 - 180))
    view: View = "oblique" if spread_deg > settings.disagree_deg else _name(mean_deg, settings)
    return SeenView(view, mean_deg, float(np.hypot(8.0, spread_deg)))


def _name(heading_deg: float, settings: ViewSettings) -> View:
    from_square_deg = min(abs(heading_deg), 180 - abs(heading_deg))
    if from_square_deg <= settings.front_within_deg:
        return "front"
    return "side" if from_square_deg >= 90 - settings.side_within_deg else "oblique"
