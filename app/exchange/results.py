"""Whole results as JSON lines, out and in again without loss."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from app.history.mapping import JUMP_COLUMNS, Measured
from app.names import tidy_name
from measure.report import SCHEMA as REPORT_SCHEMA

if TYPE_CHECKING:
    from app.history import ResultRecord

SCHEMA = "flightmark.result/1"
SHA256 = re.compile("[0-9a-f]{64}")
NEEDED_IN_JUMP = JUMP_COLUMNS[:8]
"""Instants, flight time and height with their sigmas."""


def line_from_result(result: ResultRecord, *, stature_m: float | None) -> str:
    """Give a result as one line of JSON."""
    return json.dumps(
        {
            "schema": SCHEMA,
            "athlete": result.athlete,
            "stature_m": stature_m,
            "on_date": result.on_date.isoformat(),
            "clip_name": result.clip_name,
            "saved_at": result.created_at.isoformat(),
            "request": result.request,
            "track_sha256": result.track_sha256,
            "report": result.report,
        },
        ensure_ascii=False, allow_nan=False,
    )  # fmt: skip


def result_from_line(line: str) -> Measured:
    """Give the result that a line holds.

    Raises
    ------
    ValueError
        With what is wrong with it.
    """
    try:
        told = json.loads(line, parse_constant=_no_constant)
    except RecursionError:
        raise ValueError("expected a result, got something too deep") from None
    if not isinstance(told, dict) or told.get("schema") != SCHEMA:
        raise ValueError(f"expected an object of schema {SCHEMA}")
    try:
        saved_at = datetime.fromisoformat(told["saved_at"])
        measured = Measured(
            report=told["report"], athlete=tidy_name(told["athlete"]),
            on_date=date.fromisoformat(told["on_date"]), clip_name=str(told["clip_name"]),
            saved_at=saved_at, stature_m=told.get("stature_m"), request=told.get("request"),
            track_sha256=told.get("track_sha256"),
        )  # fmt: skip
    except (KeyError, TypeError) as error:
        raise ValueError(f"a part is missing or of another kind ({error})") from None
    faults = list(_faults(measured))
    if faults:
        raise ValueError("; ".join(faults[:3]))
    return measured


def _faults(measured: Measured) -> Iterator[str]:
    report = measured.report
    if not isinstance(report, dict) or report.get("schema") != REPORT_SCHEMA:
        yield f"report: expected schema {REPORT_SCHEMA}"
        return
    if measured.saved_at.tzinfo is None:
        yield "saved_at: expected a time with its zone"
    if measured.stature_m is not None and not _is_number(measured.stature_m):
        yield "stature_m: expected a number"
    if not isinstance(measured.request, dict | None):
        yield "request: expected an object"
    if not SHA256.fullmatch(str(_inside(report, "clip").get("sha256"))):
        yield "report.clip.sha256: expected 64 hexadecimal letters"
    versions = _inside(report, "versions")
    for name in ("flightmark", "pose_model", "settings_sha256"):
        if not isinstance(versions.get(name), str):
            yield f"report.versions.{name}: expected a text"
    yield from _jump_faults(report.get("jumps", []))


def _jump_faults(jumps: Any) -> Iterator[str]:
    if not isinstance(jumps, list):
        yield "report.jumps: expected a list"
        return
    for number, jump in enumerate(jumps, start=1):
        for name in JUMP_COLUMNS:
            value = _inside({"jump": jump}, "jump").get(name)
            if name.endswith("_side"):
                is_good = value in ("left", "right", "both")
            else:
                is_good = _is_number(value) or (value is None and name not in NEEDED_IN_JUMP)
            if not is_good:
                yield f"report.jumps, jump {number}, {name}: got {value!r}"


def _inside(values: dict[str, Any], name: str) -> dict[str, Any]:
    inner = values.get(name)
    return inner if isinstance(inner, dict) else {}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _no_constant(name: str) -> Any:
    raise ValueError(f"expected finite numbers, got {name}")
