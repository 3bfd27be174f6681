"""A word about landings: what was seen against published criteria. Describes, never diagnoses."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measure.criteria import CRITERIA, Criterion
from measure.report import Caution, JumpReport
from measure.types import Foot

__all__ = ["STANDING_NOTICE", "assess_cautions"]

STANDING_NOTICE = (
    "What is said about landings describes these landings on this video. It is no diagnosis and "
    "predicts no injury: no screening of landings does (Bahr 2016, doi:10.1136/bjsports-2016-"
    "096256). Angles from one camera are good to 5 to 10 degrees; the same athlete over three or "
    "more landings says more than one value. See a doctor or physiotherapist about pain, "
    "swelling, a joint that gives way or locks, numbness, a knock to the head, not being able to "
    "bear weight, or before jumping again after a recent injury or surgery without clearance. "
    "Never wait with that because a landing looks good here."
)
"""Part of every report that has a landing."""

PATTERN_LANDINGS = 3
Sex = Literal["female", "male"]


@dataclass(frozen=True, slots=True)
class _Finding:
    """One number of one landing against its criterion."""

    criterion: Criterion
    time_s: float
    value: float
    sigma: float
    limit: float
    foot: Foot | None

    @property
    def excess(self) -> float:
        """How far on the flagged side, in sigmas."""
        value = abs(self.value) if self.criterion.flagged == "beyond" else self.value
        over = self.limit - value if self.criterion.flagged == "below" else value - self.limit
        return over / max(self.sigma, 1e-9)

    @property
    def verdict(self) -> Literal["beyond", "borderline", "fine"]:
        """Borderline inside the grey band of one sigma either way."""
        if abs(self.excess) < 1:
            return "borderline"
        return "beyond" if self.excess > 0 else "fine"


def assess_cautions(jumps: Sequence[JumpReport], *, sex: Sex | None = None) -> tuple[Caution, ...]:
    """Compare the landings of a clip with the published criteria.

    Parameters
    ----------
    jumps : sequence of JumpReport
        With their landings.
    sex : {"female", "male"} or None
        Some published values differ; None takes the wider, women's one.

    Returns
    -------
    tuple of Caution
        One for each code at most, in the order of the criteria. Never a total.

    Notes
    -----
    A pattern is something seen clearly in three landings or more; less is said to be less.
    Landings that go straight into the next hop are judged only where hops do not ask for the
    opposite. *When this is wrong*: thresholds come from drop jumps in laboratories.
    """
    cautions = []
    for criterion in CRITERIA:
        findings = [
            finding for jump in jumps if (finding := _find(criterion, jump, sex)) is not None
        ]
        if caution := _caution(criterion, findings):
            cautions.append(caution)
    return (*cautions, *_contact_part(jumps), *_balance(jumps))


def _find(criterion: Criterion, jump: JumpReport, sex: Sex | None) -> _Finding | None:
    """Give the most marked foot's number, None where it does not apply or was not measured."""
    landing = jump.landing
    feet = "both" if jump.landing_side == "both" else "one"
    if landing is None or criterion.landed_on not in ("any", feet):
        return None
    if landing.is_rebounded and not criterion.counts_in_hops:
        return None
    value = getattr(landing, f"{criterion.field}_{criterion.unit}")
    sigma = getattr(landing, f"{criterion.field}_sigma_{criterion.unit}")
    if value is None or sigma is None:
        return None
    is_man = sex == "male" and criterion.limit_men is not None
    limit = criterion.limit_men if is_man and criterion.limit_men is not None else criterion.limit
    if not isinstance(value, dict):
        return _Finding(criterion, jump.landing_s, value, sigma, limit, None)
    both = [
        _Finding(criterion, jump.landing_s, value[foot], sigma[foot], limit, foot)
        for foot in ("left", "right")
        if foot in value
    ]
    return max(both, key=lambda finding: finding.excess) if both else None


def _caution(criterion: Criterion, findings: list[_Finding]) -> Caution | None:
    flagged = [finding for finding in findings if finding.verdict != "fine"]
    if not flagged:
        return None
    clear = sum(finding.verdict == "beyond" for finding in findings)
    worst = max(flagged, key=lambda finding: finding.excess)
    prefix = "" if clear else "Borderline, it could be either way: "
    return Caution(
        code=criterion.code,
        text=f"{prefix}{criterion.text} {_frequency(clear, len(flagged), len(findings))} "
        f"Usual coaching: {criterion.coaching}.",
        seen=_seen(findings, worst),
        threshold=_threshold(criterion, worst.limit),
        source=criterion.source,
        time_s=worst.time_s,
    )


def _frequency(clear: int, flagged: int, measured: int) -> str:
    """Say how often, and what so few landings are worth."""
    if measured == 1:
        return "This is a single landing, which says little."
    often = f"Clearly in {clear} of {measured} landings"
    if flagged > clear:
        often += f", borderline in {flagged - clear}"
    if clear >= PATTERN_LANDINGS:
        return f"{often}: a pattern."
    return f"{often}; {PATTERN_LANDINGS} make a pattern."


def _seen(findings: list[_Finding], worst: _Finding) -> str:
    """Give the mean over three landings or more, the most marked one below that."""
    unit = worst.criterion.unit
    if len(findings) >= PATTERN_LANDINGS:
        values = [finding.value for finding in findings]
        # The method's error is shared by all landings of a clip: a mean does not shrink it.
        method = statistics.fmean(finding.sigma for finding in findings)
        sigma = float(np.hypot(method, statistics.stdev(values) / len(values) ** 0.5))
        return f"mean {_amount(statistics.fmean(values), sigma, unit)} of {len(values)} landings"
    foot = "" if worst.foot is None else f" ({worst.foot})"
    return f"{_amount(worst.value, worst.sigma, unit)}{foot}"


def _threshold(criterion: Criterion, limit: float) -> str:
    word = {"below": "below", "above": "above", "beyond": "more, to either side, than"}
    return f"{word[criterion.flagged]} {_number(limit, criterion.unit)}"


def _amount(value: float, sigma: float, unit: str) -> str:
    scale, digits, name = _FORMS[unit]
    return f"{value * scale:.{digits}f} ± {sigma * scale:.{digits}f}{name}"


def _number(value: float, unit: str) -> str:
    scale, digits, name = _FORMS[unit]
    return f"{value * scale:.{digits}f}{name}"


_FORMS = {"deg": (1, 0, " degrees"), "ratio": (1, 2, ""), "s": (1000, 0, " ms")}


def _contact_part(jumps: Sequence[JumpReport]) -> tuple[Caution, ...]:
    """Landings that begin on the heel or the whole sole."""
    known = [jump for jump in jumps if jump.landing is not None and jump.landing.contact_part]
    hard = [jump for jump in known if jump.landing and jump.landing.contact_part != "toe"]
    if not hard or hard[0].landing is None:
        return ()
    part = "heel" if hard[0].landing.contact_part == "heel" else "whole sole"
    return (Caution(
        code="heel_or_flat_contact",
        text=f"The {part} touched first. {_frequency(len(hard), len(hard), len(known))} "
        "Usual coaching: ask to touch with the toes and roll down quietly.",
        seen=f"{part} first in {len(hard)} of {len(known)}",
        threshold="heel or flat before toes",
        source="Padua and others 2009, doi:10.1177/0363546509343200 (wording partly from memory)",
        time_s=hard[0].landing_s,
    ),)  # fmt: skip


_EVENTS = {
    "other_foot_down": "the other foot touched down", "step": "a foot stepped",
    "hop": "a hop saved the balance", "hand_down": "a hand touched the ground",
}  # fmt: skip


def _balance(jumps: Sequence[JumpReport]) -> tuple[Caution, ...]:
    """Landings that were not held."""
    asked = [jump for jump in jumps if jump.landing is not None and not jump.landing.is_rebounded]
    lost = [jump for jump in asked if jump.landing is not None and jump.landing.extra_step]
    if not lost:
        return ()
    landing = lost[0].landing
    assert landing is not None
    event = _EVENTS.get(landing.hold_ended_by or "", "the landing was left")
    held = (
        "" if landing.held_s is None or landing.held_sigma_s is None
        else f" after {landing.held_s:.2f} ± {max(landing.held_sigma_s, 0.01):.2f} s"
    )  # fmt: skip
    return (Caution(
        code="balance_lost",
        text="The landing was not held. "
        f"{_frequency(len(lost), len(lost), len(asked))} "
        "Usual coaching: lower the height or the effort until it can be held for a second.",
        seen=f"{event}{held}",
        threshold="held for about a second, steady, without a step, hop, other foot or hand",
        source="common practice in landing and holding (from memory)",
        time_s=lost[0].landing_s,
    ),)  # fmt: skip
