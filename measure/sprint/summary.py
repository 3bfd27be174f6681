"""A run's measurements in the form of the report."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.values import Refused
from measure.report import MarkTime, SplitTime, SprintReport, StepContact, TurnTime
from measure.sprint.crossings import Crossings
from measure.sprint.speed import SpeedCurve
from measure.sprint.splits import time_splits
from measure.sprint.stands import Stand
from measure.sprint.steps import Steps
from measure.sprint.top_speed import TopSpeed
from measure.sprint.turn import Turn
from measure.types import Instant

__all__ = ["add_motion", "add_stands", "summarise_marks", "summarise_splits"]

CONTACT_COMMON_SIGMA_S = 0.010
"""Of all contacts of a run: how a shoe rolls off, and how it stands out from the ground."""


def summarise_marks(crossings: Crossings) -> tuple[MarkTime, ...]:
    """Give the marks that were passed."""
    return tuple(MarkTime(mark.distance_m, mark.time_s, mark.sigma_s) for mark in crossings.marks)


def summarise_splits(crossings: Crossings, start: Instant | None) -> tuple[SplitTime, ...]:
    """Give the times between them."""
    return tuple(
        SplitTime(split.to_m, split.time_s, split.sigma_s, split.from_m, split.mean_speed_mps)
        for split in time_splits(crossings, start)
    )


def add_motion(
    report: SprintReport, *, turn: Turn | Refused | None, curve: SpeedCurve | Refused | None,
    top: TopSpeed | Refused, steps: Steps | Refused,
) -> SprintReport:  # fmt: skip
    """Add what was measured between the marks; what was refused stays absent."""
    if isinstance(turn, Turn):
        report = replace(report, turn=TurnTime(
            turn.start.time_s, turn.start.sigma_s, turn.end.time_s, turn.end.sigma_s, turn.side
        ))  # fmt: skip
    if isinstance(top, TopSpeed):
        report = replace(
            report, max_speed_mps=top.speed_mps.value, max_speed_sigma_mps=top.speed_mps.sigma,
            max_speed_at_m=top.distance_m,
        )  # fmt: skip
    if isinstance(curve, SpeedCurve):
        report = replace(
            report, time_constant_s=curve.time_constant_s.value,
            time_constant_sigma_s=curve.time_constant_s.sigma,
            curve_speed_mps=curve.max_speed_mps.value,
            curve_speed_sigma_mps=curve.max_speed_mps.sigma,
            curve_offset_s=curve.offset_s.value, curve_offset_sigma_s=curve.offset_s.sigma,
        )  # fmt: skip
    if isinstance(steps, Steps):
        report = replace(
            report, step_count=steps.count,
            step_length_m=steps.length_m.value, step_length_sigma_m=steps.length_m.sigma,
            step_frequency_hz=steps.frequency_hz.value,
            step_frequency_sigma_hz=steps.frequency_hz.sigma,
        )  # fmt: skip
    return report


def add_stands(report: SprintReport, stands: tuple[Stand, ...]) -> SprintReport:
    """Add the ground contacts of the run's steps, and the median of how long they took."""
    if not stands:
        return report
    lengths_s = np.array([stand.end.time_s - stand.start.time_s for stand in stands])
    one_s = float(np.hypot(stands[0].start.sigma_s, stands[0].end.sigma_s))
    # A median of N scatters 1.25 times as much as a mean; what all share stays.
    sigma_s = float(np.hypot(CONTACT_COMMON_SIGMA_S, 1.25 * one_s / np.sqrt(lengths_s.size)))
    return replace(
        report, contact_time_s=float(np.median(lengths_s)), contact_time_sigma_s=sigma_s,
        step_contacts=tuple(
            StepContact(
                stand.start.time_s, stand.start.sigma_s, stand.end.time_s, stand.end.sigma_s,
                stand.distance_m,
            )
            for stand in stands
        ),
    )  # fmt: skip
