"""Reports with known numbers, to stand in for an analysis."""

from __future__ import annotations

import dataclasses
import hashlib
from typing import Any

from calibration.values import Refused, Scale, TimeBase
from measure.report import (
    ClipFacts,
    JumpReport,
    MarkTime,
    Report,
    SplitTime,
    SprintReport,
    Versions,
)
from measure.types import Contact, Instant

FLIGHT_TIME_S = 0.5
HEIGHT_M = 0.306458
"""Standard gravity times the flight time squared over eight."""


def a_jump(**changes: Any) -> JumpReport:
    jump = JumpReport(
        take_off_s=1.2, take_off_sigma_s=0.002, landing_s=1.7, landing_sigma_s=0.001,
        flight_time_s=FLIGHT_TIME_S, flight_time_sigma_s=0.00224,
        height_m=HEIGHT_M, height_sigma_m=0.00274,
        height_com_m=0.291, height_com_sigma_m=0.008,
    )  # fmt: skip
    return dataclasses.replace(jump, **changes)


def a_report(*jumps: JumpReport, content: str = "clip", **changes: Any) -> Report:
    report = Report(
        clip=ClipFacts(
            sha256=hashlib.sha256(content.encode()).hexdigest(), width_px=1280, height_px=720,
            frame_count=180, duration_s=2.98, rotation_deg=0,
            recorded_at="2026-03-02T17:05:00+00:00",
        ),
        time_base=TimeBase("as_filed", 60.0, 1.0, ("Frames are 16.7 ms apart.",)),
        versions=Versions("0.1.0", "pose landmarks, full", "ab" * 32),
        view="side",
        exercise="vertical",
        scale=Scale(0.00497, 0.00005, "stature"),
        contacts=(Contact("left", None, Instant(1.2, 0.002)),),
        jumps=jumps,
        refusals=(Refused("height_standing_m", "No quiet standing is seen.", "Stand still for a "
                          "second before the jump."),),
    )  # fmt: skip
    return dataclasses.replace(report, **changes)


def a_sprint(**changes: Any) -> SprintReport:
    sprint = SprintReport(
        start_s=0.8, start_sigma_s=0.01, start_rule="first", surface="grass",
        marks=(MarkTime(10.0, 2.7, 0.003),), splits=(SplitTime(10.0, 1.9, 0.01, 0.0),),
        max_speed_mps=7.1, max_speed_sigma_mps=0.1,
    )  # fmt: skip
    return dataclasses.replace(sprint, **changes)


def a_refusal(what: str = "jumps") -> Refused:
    return Refused(what, "both feet never leave the ground together", "Film a jump.")
