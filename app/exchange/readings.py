"""Heights and times measured by other means, from CSV with units in the column names."""

from __future__ import annotations

import csv
import hashlib
import json
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from app.exercises import EXERCISE_NAMES
from app.names import tidy_name

WORDS = ("athlete", "date", "method", "exercise", "side", "start_rule", "note")
NEEDED = ("athlete", "date", "method")
QUANTITIES = (
    "height_m", "height_standing_m", "flight_time_s", "contact_time_s", "rsi_mps", "time_s",
    "max_speed_mps",
)  # fmt: skip
DISTANCES = ("from_m", "to_m")
SIDES = ("left", "right", "both")
OTHER_UNITS = {
    "_cm": ("_m", 0.01), "_in": ("_m", 0.0254), "_yd": ("_m", 0.9144), "_ms": ("_s", 0.001),
}  # fmt: skip
"""Endings of columns that are turned into SI units (an inch and a yard are exact by definition)."""
LONGEST_METHOD = 50
LONGEST_RULE = 100
FILM = "film"


@dataclass(frozen=True)
class Reading:
    """One number that was measured by other means than film."""

    athlete: str
    on_date: date
    method: str
    """Stopwatch, tape, mat, gates, plate, reach …"""
    quantity: str
    value: float
    sigma: float | None = None
    exercise: str | None = None
    side: str = "both"
    from_m: float | None = None
    to_m: float | None = None
    start_rule: str | None = None
    note: str | None = None

    def sha256(self, *, repeat: int) -> str:
        """Give what the same reading has in common; ``repeat`` tells equal trials apart."""
        fields = [self.method, self.quantity, self.value, self.exercise, self.side, self.from_m,
                  self.to_m, self.start_rule, self.note, repeat]  # fmt: skip
        return hashlib.sha256(json.dumps(fields).encode()).hexdigest()


class WrongTable(ValueError):
    """What is wrong with a table, one line for each fault."""


def read_readings(lines: Iterable[str], *, method: str | None = None) -> list[Reading]:
    """Read the lines of a CSV file.

    Parameters
    ----------
    lines : iterable of str
    method : str, optional
        For lines that don't say it.

    Raises
    ------
    WrongTable
        With every fault; nothing is to be kept then.
    """
    rows = csv.DictReader(lines, strict=True)
    units = _units(rows.fieldnames or (), method)
    readings: list[Reading] = []
    faults: list[str] = []
    try:
        for row in rows:
            try:
                readings.extend(_row_readings(row, units, method))
            except ValueError as error:
                faults.append(f"line {rows.line_num}: {error}")
    except csv.Error as error:
        faults.append(f"line {rows.line_num}: {error}")
    if faults or not readings:
        raise WrongTable("\n  ".join(faults) or "There are no readings in it.")
    return readings


def _units(columns: Iterable[str], method: str | None) -> dict[str, tuple[str, float]]:
    """Give for each number column its name in SI units and the factor to them."""
    known = {*QUANTITIES, *map(_sigma_of, QUANTITIES), *DISTANCES}
    units: dict[str, tuple[str, float]] = {}
    unknown = []
    for column in columns:
        name, factor = _in_si(column)
        if name in known:
            units[column] = (name, factor)
        elif column not in WORDS:
            unknown.append(column)
    missing = [name for name in NEEDED if name not in columns and not (name == "method" and method)]
    if "clip_sha256" in unknown:
        raise WrongTable("These are results from film; move them as .jsonl.")
    if unknown or missing:
        told = [f"unknown column {name}" for name in unknown]
        told += [f"no column {name}" for name in missing]
        raise WrongTable(
            f"{', '.join(told)}. Known are {', '.join((*WORDS, *QUANTITIES, *DISTANCES))}, and "
            "each quantity's sigma such as height_sigma_m."
        )
    return units


def _in_si(column: str) -> tuple[str, float]:
    for ending, (unit, factor) in OTHER_UNITS.items():
        if column.endswith(ending):
            return column.removesuffix(ending) + unit, factor
    return column, 1.0


def _sigma_of(quantity: str) -> str:
    stem, unit = quantity.rsplit("_", 1)
    return f"{stem}_sigma_{unit}"


def _row_readings(
    row: dict[str, Any], units: dict[str, tuple[str, float]], method: str | None
) -> Iterator[Reading]:
    if None in row or None in row.values():
        raise ValueError("expected as many values as there are columns")
    words = {name: row[name].strip() for name in WORDS if row.get(name, "").strip()}
    numbers = {
        name: _number(row[column], column) * factor
        for column, (name, factor) in units.items()
        if row[column].strip()
    }
    common = _common(words, method)
    distances = {name: numbers.get(name) for name in DISTANCES}
    found = [name for name in QUANTITIES if name in numbers]
    if not found:
        raise ValueError(f"expected a value for one of {', '.join(QUANTITIES)}")
    for name in found:
        sigma = numbers.get(_sigma_of(name))
        if numbers[name] <= 0 or (sigma is not None and sigma < 0):
            raise ValueError(f"{name}: expected a number > 0 and a sigma >= 0")
        if name == "time_s" and distances["to_m"] is None:
            raise ValueError("time_s: expected to_m beside it")
        yield Reading(**common, **distances, quantity=name, value=numbers[name], sigma=sigma)


def _common(words: dict[str, str], method: str | None) -> dict[str, Any]:
    by = words.get("method") or method or ""
    if not by or len(by) > LONGEST_METHOD or by.lower() == FILM:
        raise ValueError(f"method: expected how it was measured, such as stopwatch, got {by!r}")
    exercise, side = words.get("exercise"), words.get("side", "both")
    if exercise is not None and exercise not in EXERCISE_NAMES:
        raise ValueError(f"exercise: expected one of {', '.join(EXERCISE_NAMES)}, got {exercise!r}")
    if side not in SIDES:
        raise ValueError(f"side: expected left, right or both, got {side!r}")
    if len(words.get("start_rule", "")) > LONGEST_RULE:
        raise ValueError(f"start_rule: expected {LONGEST_RULE} letters at most")
    return {
        "athlete": tidy_name(words.get("athlete", "")), "on_date": _day(words.get("date", "")),
        "method": by, "exercise": exercise, "side": side, "start_rule": words.get("start_rule"),
        "note": words.get("note"),
    }  # fmt: skip


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"date: expected YYYY-MM-DD, got {text!r}") from None


def _number(text: str, column: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError(f"{column}: expected a number, got {text!r}")
    return value
