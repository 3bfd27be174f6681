"""Words of the command line to values; a wrong word says what was expected."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from app.names import tidy_name
from measure.request import Reference


@dataclass(frozen=True)
class Span:
    """The values that make sense for a number, and what it is."""

    least: float
    most: float
    meaning: str


STATURE_M = Span(0.8, 2.4, "a stature in metres, such as 1.72")
CAPTURE_RATE_HZ = Span(5.0, 2000.0, "pictures per second, such as 240")
MASS_KG = Span(15.0, 250.0, "a mass in kilograms, such as 61")
START_S = Span(0.0, 3600.0, "seconds since the first picture, such as 1.25")
LATITUDE_DEG = Span(-90.0, 90.0, "degrees north of the equator, such as 47.4")


def number_within(span: Span) -> Callable[[str], float]:
    """Give the reader of a number that must lie in a span."""

    def read(text: str) -> float:
        value = _number(text)
        if value is None or not span.least <= value <= span.most:
            raise argparse.ArgumentTypeError(
                f"expected {span.meaning} ({span.least:g} to {span.most:g}), got {text!r}"
            )
        return value

    return read


def read_reference(text: str) -> Reference:
    """Read a reference length: both ends in pixels and the distance between them in metres."""
    numbers = [_number(word) for word in text.split(",")]
    ends_and_length = [number for number in numbers if number is not None]
    if len(numbers) == len(ends_and_length) == 5:
        x1, y1, x2, y2, length_m = ends_and_length
        if length_m > 0 and (x1, y1) != (x2, y2):
            return Reference((x1, y1), (x2, y2), length_m)
    raise argparse.ArgumentTypeError(
        "expected X1,Y1,X2,Y2,LENGTH_M: two different points in pixels of the upright picture and "
        f"the metres between them, got {text!r}"
    )


def read_date(text: str) -> date:
    """Read a day such as 2026-03-02."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"expected YYYY-MM-DD, got {text!r}") from None


def read_athlete(text: str) -> str:
    """Read an athlete's name."""
    try:
        return tidy_name(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None
