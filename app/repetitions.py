"""Kept results as repetitions that can be compared: like with like, and only what counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from app.exercises import EXERCISE_NAMES, name_exercise
from app.report.units import Units

if TYPE_CHECKING:
    from app.history.reviews import ClipRecord
    from app.history.words import VerdictRecord

WHOLE_CLIP = 0
START_RULES = {
    "first_movement": "from the first movement",
    "first_movement, set by hand": "from the first movement, set by hand",
}
MOSTLY = 0.8
PLAIN = Units()


@dataclass(frozen=True)
class Quantity:
    """Something measured once per repetition."""

    key: str
    """Field of a jump in the report, or ``split``."""
    name: str
    unit: str
    """``length``, ``time``, ``speed``."""
    explained: str
    more_is_better: bool = True


QUANTITIES = {
    each.key: each
    for each in (
        Quantity(
            "height_com_m", "body's rise", "length",
            "How far the body's centre of mass rose from take-off to its top. How the landing "
            "looks does not change it.",
        ),
        Quantity(
            "height_m", "height from flight time", "length",
            "From the time in the air: g·T²/8. It reads high when you land lower than you left, "
            "for example with bent knees.",
        ),
        Quantity(
            "height_standing_m", "height above standing", "length",
            "How far the centre of mass rose above quiet standing, rising onto the toes included.",
        ),
        Quantity(
            "contact_time_s", "time on the ground", "time",
            "From the first touch to leaving the ground again, before this jump.",
            more_is_better=False,
        ),
        Quantity(
            "rsi_mps", "RSI", "speed",
            "Reactive strength index: the height of the jump over the time on the ground before "
            "it. High and quick makes it large.",
        ),
        Quantity("split", "time", "time", "Seconds between two marks.", more_is_better=False),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """What must be the same for two repetitions to be compared."""

    exercise: str
    side: str = "both"
    start_rule: str = ""
    from_m: float | None = None
    """Where a timed stretch begins; None for the start."""
    to_m: float | None = None
    surface: str = ""

    def name(self, units: Units) -> str:
        """Give the kind in words."""
        parts = [name_exercise(self.exercise or None)]
        if self.side != "both":
            parts.append(_side_name(self))
        rule = START_RULES.get(self.start_rule, self.start_rule)
        surface = "" if self.surface == "unknown" else self.surface
        return ", ".join([*parts, *filter(None, (self.stretch(units), rule, surface))])

    def stretch(self, units: Units) -> str:
        """Give a timed stretch in words; nothing for a jump."""
        if self.to_m is None:
            return ""
        start = "start" if self.from_m is None else units.distance(self.from_m)
        return f"{start} to {units.distance(self.to_m)}"

    @property
    def is_sprint(self) -> bool:
        """Whether it is timed rather than measured in height."""
        return self.to_m is not None


@dataclass(frozen=True)
class Repetition:
    """One jump, or one timed stretch of a run."""

    clip: ClipRecord
    number: int
    """Place in the clip, from 1; 0 for a run."""
    kind: Kind
    numbers: Mapping[str, Any]
    """Fields of the report with their sigmas."""
    is_accepted: bool | None
    """What a coach said; None where nobody has."""

    @property
    def at(self) -> datetime:
        """When it was filmed."""
        return self.clip.filmed_at

    @property
    def on_date(self) -> date:
        """Day of training."""
        return self.clip.on_date

    def value(self, key: str) -> float | None:
        """Give a number, None where it was not measured."""
        return self.numbers.get(key)

    def sigma(self, key: str) -> float:
        """Give its standard uncertainty."""
        return float(self.numbers.get(sigma_name(key)) or 0.0)


def sigma_name(key: str) -> str:
    """Give the name of a field's sigma: before the unit, where there is one."""
    if key == "split":
        return "split_sigma"
    stem, _, unit = key.rpartition("_")
    return f"{stem}_sigma_{unit}"


def list_repetitions(
    clips: Sequence[ClipRecord], verdicts: Mapping[tuple[int, int], VerdictRecord]
) -> list[Repetition]:
    """Give every repetition of some clips, in their order."""
    return [
        each
        for clip in clips
        for each in repetitions_of_clip(
            clip, clip.report.get("jumps", ()), clip.report.get("sprint"), verdicts
        )
    ]


def repetitions_of_clip(
    clip: ClipRecord,
    jumps: Sequence[Mapping[str, Any]],
    sprint: Mapping[str, Any] | None,
    verdicts: Mapping[tuple[int, int], VerdictRecord],
) -> list[Repetition]:
    """Give the repetitions of one clip, from its report or from its columns."""
    whole = verdicts.get((clip.clip_id, WHOLE_CLIP))
    found: list[Repetition] = []
    for number, jump in enumerate(jumps, start=1):
        word = verdicts.get((clip.clip_id, number)) or whole
        kind = Kind(clip.exercise or "", jump.get("take_off_side", "both"))
        found.append(Repetition(clip, number, kind, jump, word and word.is_accepted))
    if sprint is not None:
        accepted = whole and whole.is_accepted
        found += [
            Repetition(clip, WHOLE_CLIP, _run_kind(clip, sprint, split), _run(split), accepted)
            for split in sprint.get("splits", ())
        ]
    return found


def _run_kind(clip: ClipRecord, sprint: Mapping[str, Any], split: Mapping[str, Any]) -> Kind:
    start_m = split.get("from_m")
    rule = "" if start_m is not None else str(sprint.get("start_rule", ""))
    turn = sprint.get("turn") or {}
    side = str(sprint.get("start_foot") or turn.get("side") or "both")
    return Kind(
        clip.exercise or "sprint", side, rule, start_m, float(split["to_m"]), _ground(sprint)
    )


def _ground(sprint: Mapping[str, Any]) -> str:
    """Surface and slope: a time on one is never compared with a time on another."""
    surface = str(sprint.get("surface", "unknown"))
    slope_pct = float(sprint.get("slope_pct") or 0.0)
    return f"{surface}, slope {slope_pct:+g} %" if slope_pct else surface


def _side_name(kind: Kind) -> str:
    if kind.exercise == "shuffle_sprint":
        return f"towards the {kind.side}"
    return f"{kind.side} foot in front" if kind.is_sprint else f"off the {kind.side} foot"


def _run(split: Mapping[str, Any]) -> dict[str, float]:
    return {"split": split["time_s"], "split_sigma": split["time_sigma_s"]}


def counting(repetitions: Iterable[Repetition]) -> list[Repetition]:
    """Leave out what a coach has rejected."""
    return [each for each in repetitions if each.is_accepted is not False]


def group_by_kind(repetitions: Iterable[Repetition]) -> dict[Kind, list[Repetition]]:
    """Give repetitions by what may be compared, the exercises in their usual order."""
    groups: dict[Kind, list[Repetition]] = {}
    for each in repetitions:
        groups.setdefault(each.kind, []).append(each)
    order = {key: place for place, key in enumerate(EXERCISE_NAMES)}

    def place(kind: Kind) -> tuple[int, str]:
        return order.get(kind.exercise, len(order)), kind.name(PLAIN)

    return {kind: groups[kind] for kind in sorted(groups, key=place)}


def main_quantity(repetitions: Sequence[Repetition]) -> str:
    """Choose the number by which repetitions of one kind are compared."""
    if any(each.kind.is_sprint for each in repetitions):
        return "split"
    if repetitions and repetitions[0].kind.exercise == "drop_hops":
        have = sum(each.value("rsi_mps") is not None for each in repetitions)
        if have >= MOSTLY * len(repetitions):
            return "rsi_mps"
    have = sum(each.value("height_com_m") is not None for each in repetitions)
    return "height_com_m" if have >= MOSTLY * max(len(repetitions), 1) else "height_m"


def find_best(repetitions: Iterable[Repetition], key: str) -> Repetition | None:
    """Give the best repetition by a number, None where none has it."""
    sign = 1 if QUANTITIES[key].more_is_better else -1
    measured = [each for each in repetitions if each.value(key) is not None]
    return max(measured, key=lambda each: sign * (each.value(key) or 0.0), default=None)


def count_contacts(repetitions: Iterable[Repetition]) -> int:
    """Count landings: each foot alone, or both together, is one ground contact."""
    return sum(each.number > 0 for each in repetitions)
