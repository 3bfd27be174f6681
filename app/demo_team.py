"""The invented team of the demo: whose each sample clip is, and in which week it was filmed.

Only the calendar is invented; every number comes from measuring the clip.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Visit:
    """One clip that an athlete filmed in a week."""

    clip: str
    """Name of the sample clip without ending; its truth file knows the athlete's stature."""
    athlete: str
    week: int


WEEK_COUNT = 4

TEAM = (
    Visit("vertical_front_60", "Ilka Brodin", 1),
    Visit("vertical_lean_front_60", "Ilka Brodin", 2),
    Visit("vertical_portrait_60", "Ilka Brodin", 4),
    Visit("vertical_cave_front_60", "Noor Vasari", 1),
    Visit("vertical_side_60", "Noor Vasari", 3),
    Visit("vertical_walker_front_60", "Noor Vasari", 4),
    Visit("vertical_slow_240in30", "Teo Marchek", 1),
    Visit("vertical_side_30b", "Teo Marchek", 2),
    Visit("vertical_walker_side_60", "Teo Marchek", 4),
    Visit("vertical_oblique_60", "Juno Halvard", 2),
    Visit("vertical_stiff_side_120", "Juno Halvard", 3),
    Visit("vertical_side_120", "Juno Halvard", 4),
)
