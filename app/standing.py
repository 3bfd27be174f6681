"""Where one repetition stands among an athlete's others of the same kind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from app.repetitions import Repetition, counting, find_best, main_quantity


@dataclass(frozen=True)
class Standing:
    """What an athlete wants to know after a repetition."""

    repetition: Repetition
    quantity: str
    best_today: Repetition | None
    best_before: Repetition | None
    """Best of all earlier days and repetitions."""
    rest: timedelta | None
    """Since the repetition before, of the same day."""

    @property
    def to_beat(self) -> Repetition | None:
        """The best of all, this one included."""
        both = [each for each in (self.best_before, self.repetition) if each is not None]
        return find_best(both, self.quantity)

    @property
    def is_best(self) -> bool:
        """Whether this one is the best of all so far."""
        return self.to_beat is self.repetition

    @property
    def is_clearly_best(self) -> bool:
        """Whether it beats the best before by more than both doubts together."""
        if self.best_before is None or not self.is_best:
            return self.is_best
        mine, other = (self._of(each) for each in (self.repetition, self.best_before))
        return abs(mine[0] - other[0]) > math.hypot(mine[1], other[1])

    def _of(self, each: Repetition) -> tuple[float, float]:
        return float(each.value(self.quantity) or 0.0), each.sigma(self.quantity)


def stand(repetition: Repetition, others: Sequence[Repetition]) -> Standing:
    """Compare a repetition with an athlete's others.

    Parameters
    ----------
    repetition : Repetition
    others : sequence of Repetition
        All of the athlete's, of every kind; this one may be among them.
    """
    alike = [each for each in counting(others) if each.kind == repetition.kind]
    quantity = main_quantity([*alike, repetition])
    if repetition.value(quantity) is None:
        quantity = "height_m"
    here = _place(repetition)
    earlier = [each for each in alike if _place(each) < here]
    today = [each for each in alike if each.on_date == repetition.on_date]
    return Standing(
        repetition, quantity, find_best(today, quantity), find_best(earlier, quantity),
        _rest(repetition, others),
    )  # fmt: skip


def _place(each: Repetition) -> tuple[object, ...]:
    return each.on_date, each.at, each.clip.clip_id, each.number


def _rest(repetition: Repetition, others: Sequence[Repetition]) -> timedelta | None:
    """Time since the clip filmed before, where both files say when they were filmed."""
    mine = repetition.clip.recorded_at
    before = [
        each.clip.recorded_at
        for each in others
        if each.clip.recorded_at is not None
        and mine is not None
        and each.clip.recorded_at < mine
        and each.on_date == repetition.on_date
    ]
    return None if mine is None or not before else mine - max(before)


def best_of_clip(repetitions: Sequence[Repetition]) -> Repetition | None:
    """Give the repetition of a clip that is shown first."""
    if not repetitions:
        return None
    kind = repetitions[-1].kind
    alike = [each for each in repetitions if each.kind == kind]
    quantity = main_quantity(alike)
    return find_best(alike, quantity) or alike[0]


def worth_a_look(report: dict[str, object]) -> list[str]:
    """Say why a coach should look at a clip; empty where nothing asks for it."""
    reasons = []
    cautions = report.get("cautions") or []
    if isinstance(cautions, list) and cautions:
        things = "one thing" if len(cautions) == 1 else f"{len(cautions)} things"
        reasons.append(f"{things} seen at the landing")
    time_base = report.get("time_base")
    if isinstance(time_base, dict) and time_base.get("status") == "refused":
        reasons.append("clock not to be trusted")
    if not report.get("jumps") and not report.get("sprint"):
        reasons.append("nothing was measured")
    if any(_is_unsure(jump) for jump in _jumps(report)):
        reasons.append("wide doubt")
    sprint = report.get("sprint")
    if isinstance(sprint, dict):
        reasons += _about_a_run(sprint, report)
    return reasons


def _about_a_run(sprint: dict[str, Any], report: dict[str, object]) -> list[str]:
    reasons = []
    splits = sprint.get("splits", ())
    if any(split["time_sigma_s"] > UNSURE_RUN_SHARE * split["time_s"] for split in splits):
        reasons.append("wide doubt")
    if sprint.get("start_s") is None:
        reasons.append("the start was not found")
    refusals = report.get("refusals")
    missed = refusals if isinstance(refusals, list) else []
    if any(str(each.get("what", "")).startswith("mark ") for each in missed):
        reasons.append("a mark was not timed")
    if sprint.get("followed"):
        reasons.append("others ran too, or the phone moved")
    return reasons


def _jumps(report: dict[str, object]) -> list[dict[str, float]]:
    jumps = report.get("jumps")
    return jumps if isinstance(jumps, list) else []


def _is_unsure(jump: dict[str, float]) -> bool:
    return jump["height_sigma_m"] > UNSURE_SHARE * jump["height_m"]


UNSURE_SHARE = 0.06
"""A height that is less sure than this share of itself is worth a look."""
UNSURE_RUN_SHARE = 0.02
"""A time likewise: runs of one athlete differ by 0.5 to 1.4 percent (Holmberg 2025)."""

