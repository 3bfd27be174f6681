"""What keeps something from being a result. Values are as JSON gives them: of any kind."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from app.measured import JUMP_COLUMNS, Measured
from measure.report import SCHEMA, LandingReport

SHA256 = re.compile("[0-9a-f]{64}")
SIDES = ("left", "right", "both")
SIDED = ("take_off_side", "landing_side")
NEEDED_IN_JUMP = JUMP_COLUMNS[:8]
"""Instants, flight time and height with their sigmas."""
OTHERS_IN_JUMP = tuple(name for name in JUMP_COLUMNS[8:] if name not in SIDED)
SIGMAS_IN_JUMP = tuple(name for name in JUMP_COLUMNS if "_sigma_" in name)
IN_LANDING = {field.name for field in dataclasses.fields(LandingReport)}
VERSION_LENGTHS = {"flightmark": 50, "pose_model": 200, "settings_sha256": 64}
NEEDED_IN_SPLIT = ("to_m", "time_s", "time_sigma_s")
LARGEST = 1e12
"""No number of ours comes near; what is beyond has another fault."""
TALLEST_M = 3.0
YEARS = range(1900, 2200)


def list_faults(measured: Measured) -> Iterator[str]:
    """Give what is wrong with a result, part by part."""
    report = measured.report
    if not isinstance(report, dict) or report.get("schema") != SCHEMA:
        yield f"report: expected schema {SCHEMA}"
        return
    if measured.saved_at.tzinfo is None or measured.saved_at.year not in YEARS:
        yield "saved_at: expected a time with its zone"
    if measured.on_date.year not in YEARS:
        yield "on_date: expected a day of training"
    if not _is_number(measured.stature_m, 0, TALLEST_M) and measured.stature_m is not None:
        yield "stature_m: expected a number of metres"
    if not isinstance(measured.request, dict | None):
        yield "request: expected an object"
    if not _is_sha256(measured.track_sha256) and measured.track_sha256 is not None:
        yield "track_sha256: expected 64 hexadecimal letters"
    yield from _fact_faults(report)
    yield from _jump_faults(report.get("jumps", []))
    if "sprint" in report:
        yield from _sprint_faults(report["sprint"])


def _fact_faults(report: dict[str, Any]) -> Iterator[str]:
    clip, versions = _object(report.get("clip")), _object(report.get("versions"))
    if not _is_sha256(clip.get("sha256")):
        yield "report.clip.sha256: expected 64 hexadecimal letters"
    if not _is_moment(clip.get("recorded_at")):
        yield "report.clip.recorded_at: expected a time"
    for name, longest in VERSION_LENGTHS.items():
        if not _is_word(versions.get(name), longest):
            yield f"report.versions.{name}: expected a text of {longest} letters at most"
    exercise = report.get("exercise")
    if not _is_word(exercise, 50) and exercise is not None:
        yield "report.exercise: expected a key"


def _jump_faults(jumps: Any) -> Iterator[str]:
    if not isinstance(jumps, list):
        yield "report.jumps: expected a list"
        return
    for number, jump in enumerate(map(_object, jumps), start=1):
        wrong = [name for name in NEEDED_IN_JUMP if not _is_number(jump.get(name))]
        for name in OTHERS_IN_JUMP:
            value = jump.get(name)
            if value is not None and not _is_number(value):
                wrong.append(name)
        wrong += [name for name in SIDED if jump.get(name) not in SIDES]
        if not wrong:
            wrong += [name for name in SIGMAS_IN_JUMP if (jump.get(name) or 0.0) < 0]
        for name in wrong:
            yield f"report.jumps, jump {number}, {name}: got {jump.get(name)!r}"
        landing = jump.get("landing")
        if landing is not None and not _object(landing).keys() <= IN_LANDING:
            yield f"report.jumps, jump {number}, landing: expected an object that is known here"


def _sprint_faults(sprint: Any) -> Iterator[str]:
    told = _object(sprint)
    if not _is_word(told.get("start_rule"), 100):
        yield "report.sprint.start_rule: expected a text"
    if not _is_word(told.get("surface", "unknown"), 50):
        yield "report.sprint.surface: expected a text"
    for name in ("slope_pct", "max_speed_mps", "max_speed_sigma_mps"):
        if not _is_number(told.get(name, 0.0)):
            yield f"report.sprint.{name}: expected a number"
    splits = told.get("splits", [])
    if not isinstance(splits, list):
        yield "report.sprint.splits: expected a list"
        return
    for number, split in enumerate(map(_object, splits), start=1):
        numbers = [split.get(name) for name in NEEDED_IN_SPLIT] + [split.get("from_m", 0.0)]
        if not all(map(_is_number, numbers)) or split["time_sigma_s"] < 0:
            yield f"report.sprint.splits, split {number}: expected numbers"


def _object(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _is_number(value: Any, least: float = -LARGEST, most: float = LARGEST) -> bool:
    kind = type(value)  # True and False are whole numbers to isinstance
    return (kind is float or kind is int) and least < value < most


def _is_word(value: Any, longest: int) -> bool:
    return isinstance(value, str) and len(value) <= longest and "\0" not in value


def _is_sha256(value: Any) -> bool:
    return isinstance(value, str) and SHA256.fullmatch(value) is not None


def _is_moment(value: Any) -> bool:
    try:
        return value is None or datetime.fromisoformat(value).year in YEARS
    except (TypeError, ValueError):
        return False
