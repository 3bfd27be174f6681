"""How each jump was landed, as a table with a column for each jump."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from app.report.quantities import NOT_MEASURED, lay_out, show
from measure.report import JumpReport, LandingReport

COLUMNS_AT_ONCE = 5
PER_FOOT = (
    ("knee bend at contact", "knee_flexion_contact"),
    ("knee bend, deepest", "knee_flexion_peak"),
    ("knee bends by", "knee_flexion_change"),
    ("ankle bend at contact", "ankle_flexion_contact"),
    ("ankle bend, deepest", "ankle_flexion_peak"),
    ("knee inside the leg's line", "frontal_knee_angle"),
)
SINGLE = (
    ("hip bend at contact, deg", "hip_flexion_contact", "deg", 0),
    ("hip bend, deepest, deg", "hip_flexion_peak", "deg", 0),
    ("trunk lean at contact, deg", "trunk_lean_contact", "deg", 0),
    ("trunk lean, deepest, deg", "trunk_lean_peak", "deg", 0),
    ("trunk to the left, deg", "trunk_side_lean", "deg", 0),
    ("knees apart over ankles apart", "knee_ankle_separation", "ratio", 2),
    ("feet apart over shoulders", "stance_width", "ratio", 2),
    ("second foot later by, s", "foot_lag", "s", 3),
    ("steady after, s", "time_to_steady", "s", 2),
    ("held for, s", "held", "s", 2),
)
ENDS = {
    "other_foot_down": "other foot down", "step": "a step", "hop": "a hop",
    "hand_down": "hand down", "jump": "next jump", "clip": "clip ends",
}  # fmt: skip
WORDS: tuple[tuple[str, Callable[[LandingReport], str | None]], ...] = (
    ("first foot", lambda landing: landing.first_foot),
    ("touched with", lambda landing: landing.contact_part),
    ("hold ended by", lambda landing: ENDS.get(landing.hold_ended_by or "")),
)
ANGLES_SAID = "Bend is counted from straight; left and right are the athlete's."


def render_landings(jumps: Sequence[JumpReport]) -> list[str]:
    """Give tables of what was measured of the landings, five jumps in each."""
    landed = [(n, jump.landing) for n, jump in enumerate(jumps, 1) if jump.landing is not None]
    lines: list[str] = []
    for first in range(0, len(landed), COLUMNS_AT_ONCE):
        lines += _table(landed[first : first + COLUMNS_AT_ONCE])
    return ["", *lines, ANGLES_SAID] if lines else []


def _table(landed: Sequence[tuple[int, LandingReport]]) -> list[str]:
    rows = [(name, *(cell(landing) for _, landing in landed)) for name, cell in _rows()]
    shown = [row for row in rows if any(cell != NOT_MEASURED for cell in row[1:])]
    head = ("landing of jump", *(str(number) for number, _ in landed))
    return lay_out([head, *shown]) if shown else []


def _rows() -> list[tuple[str, Callable[[LandingReport], str]]]:
    rows: list[tuple[str, Callable[[LandingReport], str]]] = []
    for name, field in PER_FOOT:
        rows += [(f"{name}, {foot}, deg", _of_foot(field, foot)) for foot in ("left", "right")]
    rows += [(name, _single(field, unit, least)) for name, field, unit, least in SINGLE]
    return rows + [(name, _word(told)) for name, told in WORDS]


def _of_foot(field: str, foot: str) -> Callable[[LandingReport], str]:
    def cell(landing: LandingReport) -> str:
        values = getattr(landing, f"{field}_deg") or {}
        sigmas = getattr(landing, f"{field}_sigma_deg") or {}
        return show(values.get(foot), sigmas.get(foot))

    return cell


def _single(field: str, unit: str, least: int) -> Callable[[LandingReport], str]:
    def cell(landing: LandingReport) -> str:
        value = getattr(landing, f"{field}_{unit}")
        return show(value, getattr(landing, f"{field}_sigma_{unit}"), least=least)

    return cell


def _word(told: Callable[[LandingReport], str | None]) -> Callable[[LandingReport], str]:
    return lambda landing: told(landing) or NOT_MEASURED
