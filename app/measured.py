"""A report with all that is kept beside it: as it goes into a history, and as it comes out."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from measure.report import JumpReport, LandingReport

JUMP_COLUMNS = tuple(
    field.name for field in dataclasses.fields(JumpReport) if field.name != "landing"
)
"""The numbers of a jump that have a column of their own, in the report's order."""
ENCODER = json.JSONEncoder(allow_nan=False, ensure_ascii=False)


class WrittenJson(dict[str, Any]):
    """An object that was read from JSON and goes back to it as it was written.

    Parameters
    ----------
    values : dict
        Those that are still asked for; not to be changed.
    text : str
        All that it was read from: what equals this equals the object.
    """

    __hash__ = None  # type: ignore[assignment]

    def __init__(self, values: dict[str, Any], text: str) -> None:
        super().__init__(values)
        self.text = text

    def __eq__(self, other: object) -> bool:
        whole = json.loads(other.text) if isinstance(other, WrittenJson) else other
        return bool(json.loads(self.text) == whole)

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __reduce__(self) -> tuple[Any, ...]:
        return WrittenJson, (dict(self), self.text)


def write_json(values: Any) -> str:
    """Give values as JSON, refusing what JSON doesn't know: infinite and undefined numbers."""
    if isinstance(values, WrittenJson):
        return values.text
    return ENCODER.encode(values)


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
class ColumnValues:
    """A report as column values: the result's own and those of what belongs to it."""

    result: dict[str, Any]
    jumps: list[dict[str, Any]]
    sprint: dict[str, Any] | None
    splits: list[dict[str, Any]]


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
    columns: ColumnValues | None = None
    """What the tables hold of it, where that is made already."""


def _jump(plain: dict[str, Any]) -> JumpReport:
    landing = plain.get("landing")
    return JumpReport(
        *(plain.get(name) for name in JUMP_COLUMNS),
        landing=None if landing is None else LandingReport(**landing),
    )
