"""What is seen again and again at an athlete's landings, over several clips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.history.review_mapping import reviewed_from_json
from app.repetitions import Repetition
from measure.cautions import PATTERN_LANDINGS, assess_cautions
from measure.report import Caution

__all__ = ["PATTERN_LANDINGS", "LandingPatterns", "landing_patterns"]

NEWEST = 15
"""Landings that say how somebody lands now, not how they once did."""


@dataclass(frozen=True)
class LandingPatterns:
    """Findings over several landings."""

    landing_count: int
    days: tuple[date, date]
    cautions: tuple[Caution, ...]


def landing_patterns(
    repetitions: Sequence[Repetition], *, sex: str | None
) -> LandingPatterns | None:
    """Look at the newest landings together; None where there are too few.

    Parameters
    ----------
    repetitions : sequence of Repetition
        Of one kind, oldest first, those that count, with their reports.
    sex : str or None
        As the athlete said, for the one limit that differs.
    """
    landed = [each for each in repetitions if each.number and each.numbers.get("landing")][-NEWEST:]
    if len(landed) < PATTERN_LANDINGS:
        return None
    jumps = [_jump(each) for each in landed]
    known: Any = sex if sex in ("female", "male") else None
    days = landed[0].on_date, landed[-1].on_date
    return LandingPatterns(len(landed), days, assess_cautions(jumps, sex=known))


def _jump(each: Repetition) -> Any:
    return reviewed_from_json(each.clip.report).jumps[each.number - 1]
