"""Numbers measured by other means, as lines that say so."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from app.exercises import name_exercise
from app.report.quantities import NOT_MEASURED, lay_out, plain, show

if TYPE_CHECKING:
    from app.exchange.readings import Reading

SHOWN_IN = {"_m": ("cm", 100.0), "_s": ("s", 1.0), "_mps": ("m/s", 1.0)}
APART = "By other means, with definitions of their own; in no chart, trend or record above:"


def render_readings(readings: Sequence[Reading]) -> list[str]:
    """Give an athlete's readings as a table; nothing where there are none."""
    if not readings:
        return []
    names = ("date", "by", "exercise", "side", "what", "value", "from, m", "to, m", "start")
    return ["", APART, *lay_out([names, *map(_row, readings)])]


def _row(reading: Reading) -> tuple[str, ...]:
    stem, unit = reading.quantity.rsplit("_", 1)
    shown, per_unit = SHOWN_IN[f"_{unit}"]
    value = show(reading.value, reading.sigma, per_unit=per_unit, least=1)
    return (
        reading.on_date.isoformat(), plain(reading.method), name_exercise(reading.exercise),
        reading.side, stem.replace("_", " "), f"{value} {shown}", _metres(reading.from_m),
        _metres(reading.to_m), plain(reading.start_rule or NOT_MEASURED),
    )  # fmt: skip


def _metres(distance_m: float | None) -> str:
    return NOT_MEASURED if distance_m is None else f"{distance_m:g}"
