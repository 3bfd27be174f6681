"""Read a lane file: marks in pixels with their distances, and the course to time."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any, TypeGuard, get_args

from calibration.lane_values import LaneMark, LaneSurvey, Row, Upright
from measure.errors import FlightmarkError

__all__ = ["UnreadableLane", "load_lane", "read_lane"]

LARGEST_FILE_BYTES = 1 << 20
OPTIONAL_NUMBERS = ("row_spacing_m", "phone_distance_m", "phone_height_m")
KNOWN_KEYS = {
    "marks", "course", "athlete_offset_m", "athlete_offset_sigma_m", "surface", "slope_pct",
    "uprights_px", *OPTIONAL_NUMBERS,
}  # fmt: skip
REMEDY = "See the lane file's description in the manual, or mark the lane anew."


class UnreadableLane(FlightmarkError):
    """The lane file is missing, or is not a lane."""


def load_lane(path: Path) -> LaneSurvey:
    """Read a lane file (JSON).

    Parameters
    ----------
    path : Path

    Returns
    -------
    LaneSurvey
        Whether its marks make sense together is found when a camera is fitted to them.

    Raises
    ------
    UnreadableLane
        With every fault found, when there is no such file or a value is missing or no number.
    """
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise UnreadableLane(f"{path.name} is too large for a lane file.", REMEDY)
        plain = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise UnreadableLane(f"The lane file {path} cannot be read.", "Check its name.") from error
    except ValueError as error:
        raise UnreadableLane(f"{path.name} is not JSON: {error}.", REMEDY) from error
    return read_lane(plain)


def read_lane(plain: Any) -> LaneSurvey:
    """Turn the plain JSON value of a lane file into a survey; raises `UnreadableLane`."""
    faults: list[str] = []
    if not isinstance(plain, dict):
        raise UnreadableLane("The lane file holds no object.", REMEDY)
    faults += [f"{key}: not known" for key in sorted(plain.keys() - KNOWN_KEYS)]
    marks = tuple(_mark(item, f"marks[{k}]", faults) for k, item in _items(plain, "marks", faults))
    course = tuple(
        _number(item, "distance_m", faults, f"course[{k}].")
        for k, item in _items(plain, "course", faults)
    )
    numbers: dict[str, float] = {"athlete_offset_m": _number(plain, "athlete_offset_m", faults)}
    for key in (*OPTIONAL_NUMBERS, "athlete_offset_sigma_m", "slope_pct"):
        if plain.get(key) is not None:
            numbers[key] = _number(plain, key, faults)
    uprights = tuple(
        _upright(item, f"uprights_px[{k}]", faults)
        for k, item in (_items(plain, "uprights_px", faults) if "uprights_px" in plain else ())
    )
    if faults:
        raise UnreadableLane(f"The lane file has faults: {'; '.join(faults)}.", REMEDY)
    surface = str(plain.get("surface") or "unknown")
    return LaneSurvey(
        marks=marks, course_m=course, surface=surface, uprights_px=uprights, **numbers
    )


def _items(plain: dict[str, Any], key: str, faults: list[str]) -> list[tuple[int, Any]]:
    items = plain.get(key)
    if not isinstance(items, list):
        faults.append(f"{key}: expected a list")
        return []
    return list(enumerate(items))


def _mark(item: Any, where: str, faults: list[str]) -> LaneMark:
    distance_m = _number(item, "distance_m", faults, f"{where}.")
    px = _point(item.get("px") if isinstance(item, dict) else None, f"{where}.px", faults)
    said = item.get("row", "near") if isinstance(item, dict) else "near"
    if said not in get_args(Row):
        faults.append(f"{where}.row: expected near or far, got {said!r}")
    row: Row = "far" if said == "far" else "near"
    return LaneMark(distance_m, px, row)


def _upright(item: Any, where: str, faults: list[str]) -> Upright:
    if not (isinstance(item, list) and len(item) == 2):
        faults.append(f"{where}: expected two points, got {item!r}")
        return (0.0, 0.0), (0.0, 0.0)
    return _point(item[0], f"{where}[0]", faults), _point(item[1], f"{where}[1]", faults)


def _point(px: Any, where: str, faults: list[str]) -> tuple[float, float]:
    if not (isinstance(px, list) and len(px) == 2 and all(_is_number(v) for v in px)):
        faults.append(f"{where}: expected two numbers, got {px!r}")
        return 0.0, 0.0
    return float(px[0]), float(px[1])


def _number(item: Any, key: str, faults: list[str], where: str = "") -> float:
    value = item.get(key) if isinstance(item, dict) else None
    if not _is_number(value):
        faults.append(f"{where}{key}: expected a number, got {value!r}")
        return 0.0
    return float(value)


def _is_number(value: Any) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
