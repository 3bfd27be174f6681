"""Whole results as JSON lines, out and in again without loss."""

from __future__ import annotations

import json
import math
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from app.exchange.result_faults import list_faults
from app.history.mapping import Measured, WrittenJson
from app.names import tidy_name

if TYPE_CHECKING:
    from app.history import ResultRecord

SCHEMA = "flightmark.result/1"
FAULTS_SHOWN = 3
REPORT_FOLLOWS = '"report": '


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
        told = _read_apart(line) or DECODER.decode(line)
        if "\\u" in line:  # half a letter passes for JSON, but no file takes it
            json.dumps(told, ensure_ascii=False).encode()
    except RecursionError:
        raise ValueError("expected a result, got something too deep") from None
    if not isinstance(told, dict) or told.get("schema") != SCHEMA:
        raise ValueError(f"expected an object of schema {SCHEMA}")
    measured = _measured(told)
    faults = list(list_faults(measured))
    if faults:
        raise ValueError("; ".join(faults[:FAULTS_SHOWN]))
    return measured


def _read_apart(line: str) -> dict[str, Any] | None:
    """Give a line's object, the report with its text, which spares writing it again.

    None where the word stands elsewhere in the line too, or the line is no JSON.
    """
    start = line.find(REPORT_FOLLOWS) + len(REPORT_FOLLOWS)
    try:
        report, end = DECODER.raw_decode(line, start)
        told = DECODER.decode(f"{line[:start]}null{line[end:]}")
    except ValueError:
        return None
    if not isinstance(told, dict) or told.get("report", line) is not None:
        return None
    if not isinstance(report, dict):
        return None
    return told | {"report": WrittenJson(report, line[start:end])}


def _measured(told: dict[str, Any]) -> Measured:
    """Give a line's object as a result, its report as it stands."""
    try:
        return Measured(
            report=told["report"], athlete=tidy_name(told["athlete"]),
            on_date=date.fromisoformat(told["on_date"]), clip_name=str(told["clip_name"]),
            saved_at=datetime.fromisoformat(told["saved_at"]), stature_m=told.get("stature_m"),
            request=told.get("request"), track_sha256=told.get("track_sha256"),
        )  # fmt: skip
    except (KeyError, TypeError) as error:
        raise ValueError(f"a part is missing or of another kind ({error})") from None


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"expected finite numbers, got {text[:20]}")
    return number


DECODER = json.JSONDecoder(parse_float=_finite, parse_constant=_finite)
"""``1e999`` is infinite, and nothing that is kept can be."""
