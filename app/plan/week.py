"""Planned against done: days, clips, ground contacts."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from app.history.plans import PlannedDay
from app.history.reviews import ClipRecord

JUMPS = ("vertical", "one_step_vertical", "single_leg_vertical", "turn_jump", "approach_jump")
ROW_CONTACTS = 4
"""Landings of one drop with hops, where the plan counts the row as one repetition."""

RANGES = (
    ("new to jumping", 80, 100),
    ("used to it", 100, 120),
    ("long used to it", 120, 140),
)
RANGES_SAID = (
    "Ground contacts of one session as a widely used strength text groups them (Potach and Chu, in "
    "Essentials of Strength Training and Conditioning; from memory): 80 to 100 for athletes new to "
    "jumping, 100 to 120 for those used to it, 120 to 140 for those long used to it, with 48 to 72 "
    "hours between sessions. They are conventions, not proven limits; jumps in games and practice "
    "count on top and are not seen here. Each foot alone, or both together, is one contact. Under "
    "16, leave out drops from a height (Allerheiligen and Rogers)."
)


@dataclass(frozen=True)
class WeekView:
    """One athlete's week."""

    days: tuple[date, ...]
    clip_count: int
    planned_repetitions: int
    """Of filmed exercises, up to and including today."""
    filmed_repetitions: int
    planned_ticks: int
    ticked: int
    contacts_done: int
    contacts_planned: int
    """Of the whole week."""

    @property
    def days_said(self) -> str:
        """Days with a clip, in words."""
        return ", ".join(f"{day:%a}" for day in self.days) or "not yet"

    @property
    def plan_said(self) -> str:
        """What of the plan is done, in words."""
        if not self.planned_repetitions and not self.planned_ticks:
            return "nothing planned"
        filmed = f"{self.filmed_repetitions} of {self.planned_repetitions} filmed"
        if not self.planned_ticks:
            return filmed
        return f"{filmed}, {self.ticked} of {self.planned_ticks} ticked"

    @property
    def contacts_said(self) -> str:
        """Counted contacts against the week's plan."""
        return f"{self.contacts_done} of {self.contacts_planned} planned"


def count_planned_contacts(day: PlannedDay) -> int:
    """Count the ground contacts that a session asks for."""
    count = 0
    for entry in day.entries:
        if entry.exercise in JUMPS:
            count += entry.repetition_count
        elif entry.exercise == "drop_hops":
            count += entry.repetition_count * ROW_CONTACTS
    return count


def count_done_contacts(clips: Sequence[ClipRecord]) -> int:
    """Count the landings that were measured."""
    return sum(len(clip.report.get("jumps", ())) for clip in clips)


def place_in_ranges(contacts: int) -> str:
    """Say where a session's contacts lie among the published ranges."""
    if contacts < RANGES[0][1]:
        return f"below {RANGES[0][1]}"
    for name, low, high in RANGES:
        if low <= contacts <= high:
            return f"{low} to {high}: {name}"
    return f"above {RANGES[-1][2]}"


def look_at_week(
    athlete_id: int, *, days: Sequence[PlannedDay], clips: Sequence[ClipRecord],
    ticks: Collection[tuple[int, int]], today: date,
) -> WeekView:  # fmt: skip
    """Compare one athlete's week with the plan.

    Parameters
    ----------
    athlete_id : int
    days : sequence of PlannedDay
        Of the week.
    clips : sequence of ClipRecord
        Of the week; those of others are left out.
    ticks : collection of (entry, athlete)
    today : date
    """
    mine = [clip for clip in clips if clip.athlete_id == athlete_id]
    due = [entry for day in days if day.on_date <= today for entry in day.entries]
    unfilmed = [entry for entry in due if entry.exercise is None]
    return WeekView(
        days=tuple(sorted({clip.on_date for clip in mine})),
        clip_count=len(mine),
        planned_repetitions=sum(e.repetition_count for e in due if e.exercise is not None),
        filmed_repetitions=sum(_repetitions(clip) for clip in mine),
        planned_ticks=len(unfilmed),
        ticked=sum((entry.entry_id, athlete_id) in ticks for entry in unfilmed),
        contacts_done=count_done_contacts(mine),
        contacts_planned=sum(map(count_planned_contacts, days)),
    )


def _repetitions(clip: ClipRecord) -> int:
    if clip.report.get("sprint") or clip.exercise == "drop_hops":
        return 1
    return len(clip.report.get("jumps", ()))
