"""Reports to column values and rows to domain values: the only functions that know both sides."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from app.requests import hash_request
from measure.report import JumpReport, LandingReport

JUMP_COLUMNS = tuple(
    field.name for field in dataclasses.fields(JumpReport) if field.name != "landing"
)
"""The numbers of a jump that have a column of their own, in the report's order."""


class WrittenJson(dict[str, Any]):
    """An object that was read from JSON and goes back to it as it was written.

    Parameters
    ----------
    values : dict
        Not to be changed.
    text : str
        What they were read from.
    """

    def __init__(self, values: dict[str, Any], text: str) -> None:
        super().__init__(values)
        self.text = text


def write_json(values: Any) -> str:
    """Give values as JSON, refusing what JSON doesn't know: infinite and undefined numbers."""
    if isinstance(values, WrittenJson):
        return values.text
    return json.dumps(values, allow_nan=False, ensure_ascii=False)


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
    report: dict[str, Any]
    """The whole report as JSON values."""
    request: dict[str, Any] | None = None
    """What was asked of the clip, where that is known."""
    track_sha256: str | None = None

    @property
    def jumps(self) -> tuple[JumpReport, ...]:
        """The report's jumps."""
        return tuple(map(_jump, self.report.get("jumps", ())))


@dataclass(frozen=True)
class Measured:
    """One report and all that is kept beside it."""

    report: dict[str, Any]
    """As JSON values, in the form that its ``schema`` names."""
    athlete: str
    on_date: date
    clip_name: str
    saved_at: datetime
    stature_m: float | None = None
    request: dict[str, Any] | None = None
    """As ``app.requests.request_as_json`` gives it."""
    track_sha256: str | None = None


@dataclass(frozen=True)
class ResultValues:
    """A report as column values: the result's own and those of what belongs to it."""

    result: dict[str, Any]
    jumps: list[dict[str, Any]]
    sprint: dict[str, Any] | None
    splits: list[dict[str, Any]]


def values_from_report(measured: Measured) -> ResultValues:
    """Give the column values of a report, without the keys that tie the rows together."""
    report = measured.report
    versions, sprint = report["versions"], report.get("sprint")
    return ResultValues(
        result={
            "flightmark_version": versions["flightmark"],
            "pose_model": versions["pose_model"],
            "settings_sha256": versions["settings_sha256"],
            "exercise": report.get("exercise"),
            "report": report,
            **request_columns(measured.request),
            "track_sha256": measured.track_sha256,
            "created_at": measured.saved_at,
        },
        jumps=[
            {"number": number, **{name: jump.get(name) for name in JUMP_COLUMNS}}
            for number, jump in enumerate(report.get("jumps", ()), start=1)
        ],
        sprint=None if sprint is None else {
            "start_rule": sprint["start_rule"],
            "surface": sprint.get("surface", "unknown"),
            "slope_pct": sprint.get("slope_pct", 0.0),
            "max_speed_mps": sprint.get("max_speed_mps"),
            "max_speed_sigma_mps": sprint.get("max_speed_sigma_mps"),
        },
        splits=[] if sprint is None else [
            {"number": number, "from_m": split.get("from_m"),
             **{name: split[name] for name in ("to_m", "time_s", "time_sigma_s")}}
            for number, split in enumerate(sprint.get("splits", ()), start=1)
        ],
    )  # fmt: skip


def request_columns(request: dict[str, Any] | None) -> dict[str, Any]:
    """Give a request and what equal ones have in common, as columns."""
    if request is None:
        return {"request": None, "request_sha256": None}
    text = write_json(request)
    return {"request": WrittenJson(request, text), "request_sha256": _hash_written(text)}


@lru_cache(maxsize=1000)  # many clips are asked the same
def _hash_written(text: str) -> str:
    return hash_request(json.loads(text))


def _jump(plain: dict[str, Any]) -> JumpReport:
    landing = plain.get("landing")
    return JumpReport(
        *(plain.get(name) for name in JUMP_COLUMNS),
        landing=None if landing is None else LandingReport(**landing),
    )
