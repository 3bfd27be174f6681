"""Whole results as JSON lines, out and in again without loss."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from app.columns import columns_from_report
from app.exchange.readings import WrongTable
from app.exchange.result_faults import list_faults
from app.measured import Measured, WrittenJson, write_json
from app.names import tidy_name

if TYPE_CHECKING:
    from app.history import ResultRecord

SCHEMA = "flightmark.result/1"
FAULTS_SHOWN = 3
MOST_FAULTS = 20
AT_ONCE = 2000
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


def read_results(lines: Iterable[str]) -> Iterator[list[Measured]]:
    """Give the results of a file, some at a time; from the first fault on only look for others.

    Raises
    ------
    WrongTable
        At the end, or after many faults.
    """
    some: list[Measured] = []
    faults: list[str] = []
    for number, line in enumerate(lines, start=1):
        try:
            if line.strip():
                some.append(result_from_line(line))
        except ValueError as error:
            faults.append(f"line {number}: {error}")
        if len(faults) == MOST_FAULTS:
            break
        if len(some) == AT_ONCE:
            if not faults:
                yield some
            some = []
    if faults:
        raise WrongTable("\n  ".join(faults))
    yield some


def result_from_line(line: str) -> Measured:
    """Give the result that a line holds, its report by its text.

    Raises
    ------
    ValueError
        With what is wrong with it.
    """
    try:
        told, text = _read_apart(line)
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
    return _with_columns(measured, text or write_json(measured.report))


def _with_columns(measured: Measured, text: str) -> Measured:
    """Give a result that no more of its report's values hang on than are asked for.

    To hand whole reports by the thousand to another process takes as long as reading them.
    """
    facts = measured.report["clip"]
    clip = {name: facts.get(name) for name in ("sha256", "recorded_at")}
    report, columns = WrittenJson({"clip": clip}, text), columns_from_report(measured)
    return dataclasses.replace(measured, report=report, columns=columns)


def _read_apart(line: str) -> tuple[Any, str]:
    """Give a line's object and the report's own text, which spares writing it again.

    No text where the word stands elsewhere in the line too.
    """
    start = line.find(REPORT_FOLLOWS) + len(REPORT_FOLLOWS)
    try:
        report, end = DECODER.raw_decode(line, start)
        told = DECODER.decode(f"{line[:start]}null{line[end:]}")
    except ValueError:
        return DECODER.decode(line), ""
    if not isinstance(told, dict) or told.get("report", line) is not None:
        return DECODER.decode(line), ""
    told["report"] = report
    return told, line[start:end]


def _measured(told: dict[str, Any]) -> Measured:
    """Give a line's object as a result, its report as it stands."""
    try:
        return Measured(
            report=told["report"], athlete=tidy_name(told["athlete"]),
            on_date=date.fromisoformat(told["on_date"]), clip_name=str(told["clip_name"]),
            saved_at=datetime.fromisoformat(told["saved_at"]), stature_m=told.get("stature_m"),
            request=_written(told.get("request")), track_sha256=told.get("track_sha256"),
        )  # fmt: skip
    except (KeyError, TypeError) as error:
        raise ValueError(f"a part is missing or of another kind ({error})") from None


def _written(request: Any) -> Any:
    return WrittenJson(request, write_json(request)) if isinstance(request, dict) else request


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"expected finite numbers, got {text[:20]}")
    return number


DECODER = json.JSONDecoder(parse_float=_finite, parse_constant=_finite)
"""``1e999`` is infinite, and nothing that is kept can be."""
