"""Rows to domain values and back: the only two functions that know both sides."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from app.history.models import Jump, Result
from measure.report import JumpReport, LandingReport, Report, as_json

JUMP_COLUMNS = tuple(
    field.name for field in dataclasses.fields(JumpReport) if field.name != "landing"
)
"""The numbers of a jump that have a column of their own, in the report's order."""


@dataclass(frozen=True)
class ResultRecord:
    """One kept result, with what is known about its clip."""

    result_id: int
    athlete: str
    on_date: date
    clip_sha256: str
    clip_name: str
    recorded_at: datetime | None
    created_at: datetime
    flightmark_version: str
    exercise: str | None
    jumps: tuple[JumpReport, ...]
    report: dict[str, Any]
    """The whole report as JSON values."""


def row_from_report(report: Report, *, created_at: datetime) -> Result:
    """Give the rows of a report: one result with its jumps, not yet tied to a clip."""
    jumps = [
        Jump(number=number, **{name: getattr(jump, name) for name in JUMP_COLUMNS})
        for number, jump in enumerate(report.jumps, start=1)
    ]
    return Result(
        flightmark_version=report.versions.flightmark,
        pose_model=report.versions.pose_model,
        settings_sha256=report.versions.settings_sha256,
        exercise=report.exercise,
        report=as_json(report),
        created_at=created_at,
        jumps=jumps,
    )


def record_from_row(row: Result) -> ResultRecord:
    """Give a kept result as a domain value; its clip, session, athlete and jumps are loaded."""
    clip = row.clip
    return ResultRecord(
        result_id=row.id,
        athlete=clip.session.athlete.name,
        on_date=clip.session.on_date,
        clip_sha256=clip.sha256,
        clip_name=clip.file_name,
        recorded_at=clip.recorded_at,
        created_at=row.created_at,
        flightmark_version=row.flightmark_version,
        exercise=row.exercise,
        jumps=tuple(_jump_from_row(jump, row.report) for jump in row.jumps),
        report=row.report,
    )


def _jump_from_row(row: Jump, report: dict[str, Any]) -> JumpReport:
    columns = {name: getattr(row, name) for name in JUMP_COLUMNS}
    landing = report["jumps"][row.number - 1].get("landing")
    return JumpReport(**columns, landing=None if landing is None else LandingReport(**landing))
