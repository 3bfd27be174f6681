"""Landings off a box: later and faster than the rough look says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from measure.contacts.coarse import CoarseFlight
from measure.contacts.plan import EventPlan
from measure.types import Floats

__all__ = ["DropSettings", "aim_at_drops"]


@dataclass(frozen=True, slots=True)
class DropSettings:
    """How a drop differs from a jump."""

    later_s: float = 0.030
    """The rough floor slopes from the box to the ground while the foot falls along it, so the
    foot seems down 36 to 64 ms before it is (20 to 37 in a jump), measured on drawn figures."""
    speed_share: float = 2.0
    """Who falls from rest lands at g T; who jumps up first, at half of that."""


def aim_at_drops(
    plans: Sequence[EventPlan], flights: Sequence[CoarseFlight], *, frame_time_s: Floats,
    settings: DropSettings | None = None,
) -> list[EventPlan]:  # fmt: skip
    """Aim the close look at a drop's landing at where and how fast it happens.

    Parameters
    ----------
    plans : sequence of EventPlan
    flights : sequence of CoarseFlight
        To which the plans refer.
    frame_time_s : ndarray of shape (N,)
        Real time of every frame.
    settings : DropSettings, optional

    Returns
    -------
    list of EventPlan
        In the same order, all others unchanged.
    """
    settings = settings or DropSettings()
    return [
        _aimed(plan, frame_time_s, settings) if _is_drop_landing(plan, flights) else plan
        for plan in plans
    ]


def _is_drop_landing(plan: EventPlan, flights: Sequence[CoarseFlight]) -> bool:
    if plan.flight is None or plan.kind != "landing":
        return False
    return not flights[plan.flight].is_jump


def _aimed(plan: EventPlan, frame_time_s: Floats, settings: DropSettings) -> EventPlan:
    coarse_s = plan.coarse_s + settings.later_s
    planted_s = frame_time_s[plan.reference] + settings.later_s
    since_s = np.abs(frame_time_s[plan.frames] - planted_s)
    return replace(
        plan, coarse_s=coarse_s, speed_mps=settings.speed_share * plan.speed_mps,
        reference=int(plan.frames[np.argmin(since_s)]),
    )  # fmt: skip
