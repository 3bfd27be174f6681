"""Published criteria for landings, in one place: threshold, source, and a coach's usual word.

Items that one view cannot show, that ask for a person's judgement, or whose published threshold
lies inside the error of one camera for nearly everybody (hip bend at contact, narrow stance) are
left out. No total is made: half of the items are hidden from any single view.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["CRITERIA", "Criterion"]

_SCHEME = "Padua and others 2009, doi:10.1177/0363546509343200, made for jumps off a 30 cm box"
_PROJECTION = (
    "Herrington and Munro 2010, doi:10.1016/j.ptsp.2009.11.004; an angle in the picture, not an "
    "abduction of the joint"
)
_CONVENTION = "no published number, the limit is this tool's"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing to look at in a landing."""

    code: str
    text: str
    """What was seen, in plain words."""
    field: str
    """Number of the landing report, without its unit."""
    unit: Literal["deg", "ratio", "s"]
    limit: float
    flagged: Literal["below", "above", "beyond"]
    """``beyond``: above the limit to either side."""
    source: str
    coaching: str
    """What a coach usually does about it, one line."""
    limit_men: float | None = None
    """Where the published value differs."""
    landed_on: Literal["one", "both", "any"] = "any"
    counts_in_hops: bool = False
    """Also for landings that go straight into the next hop, where stiff is wanted."""


CRITERIA = (
    Criterion(
        code="knee_straight_at_contact",
        text="The knee was rather straight when the foot touched.",
        field="knee_flexion_contact", unit="deg", limit=30.0, flagged="below",
        source=f"{_SCHEME}; elite handball players landed at 20 ± 6 degrees in matches (ISBS 38), "
        "so this depends on the task",
        coaching="ask for a softer landing that starts with bent knees",
    ),
    Criterion(
        code="knee_gives_little",
        text="The knee bent little between touching and the deepest point.",
        field="knee_flexion_change", unit="deg", limit=45.0, flagged="below",
        source=f"{_SCHEME} (limit from memory)",
        coaching="ask to sink into the landing, quietly, before standing up",
    ),
    Criterion(
        code="trunk_upright_at_contact",
        text="The trunk was upright or leaning back when the foot touched.",
        field="trunk_lean_contact", unit="deg", limit=0.0, flagged="below",
        source=f"{_SCHEME} (wording from memory)",
        coaching="ask to land with the chest a little ahead, hips back",
    ),
    Criterion(
        code="trunk_leans_sideways",
        text="The trunk leaned to one side when the foot touched.",
        field="trunk_side_lean", unit="deg", limit=6.0, flagged="beyond",
        source=f"{_SCHEME}; {_CONVENTION}",
        coaching="check that the phone stands level, then ask to land tall and square",
    ),
    Criterion(
        code="stance_wide",
        text="The feet landed wider than the shoulders.",
        field="stance_width", unit="ratio", limit=1.0, flagged="above",
        source=f"{_SCHEME} (wording from memory)",
        coaching="ask to land with the feet under the hips",
        landed_on="both",
    ),
    Criterion(
        code="knee_inside",
        text="The knee was inside the line from hip to ankle at the deepest point.",
        field="frontal_knee_angle", unit="deg", limit=13.0, limit_men=8.0, flagged="above",
        source=f"upper end of women's 7 to 13 and men's 3 to 8 degrees in drop jumps: "
        f"{_PROJECTION}",
        coaching="cue knees over the toes, and practise slow squats and landings in a mirror",
        landed_on="both", counts_in_hops=True,
    ),
    Criterion(
        code="knee_inside",
        text="The knee was inside the line from hip to ankle at the deepest point.",
        field="frontal_knee_angle", unit="deg", limit=12.0, limit_men=9.0, flagged="above",
        source=f"upper end of women's 5 to 12 and men's 1 to 9 degrees in single-leg landings: "
        f"{_PROJECTION}",
        coaching="cue knee over the toes, and practise slow single-leg squats in a mirror",
        landed_on="one", counts_in_hops=True,
    ),
    Criterion(
        code="knees_closer_than_ankles",
        text="The knees were closer together than the ankles at the deepest point.",
        field="knee_ankle_separation", unit="ratio", limit=1.0, flagged="below",
        source="definition of Gray 2017, Sports Health 9(6):537",
        coaching="cue knees over the toes",
        landed_on="both", counts_in_hops=True,
    ),
    Criterion(
        code="feet_not_together",
        text="One foot touched before the other.",
        field="foot_lag", unit="s", limit=0.025, flagged="above",
        source=f"{_SCHEME}; {_CONVENTION}",
        coaching="ask to land both feet at once, and watch whether it is always the same foot",
        landed_on="both", counts_in_hops=True,
    ),
)  # fmt: skip
