"""The history as plain tables: what columns there are, and their rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from app.measured import JUMP_COLUMNS

if TYPE_CHECKING:
    from app.history import History, JumpRecord

Row = tuple[Any, ...]
COUNTS = {"jump", "split"}
WORDS = {
    "athlete", "date", "recorded_at_utc", "exercise", "clip", "clip_sha256", "take_off_side",
    "landing_side", "start_rule", "surface", "method", "side", "quantity", "note",
    "flightmark_version",
}  # fmt: skip


@dataclass(frozen=True)
class Table:
    """One kind of export. All numbers are in SI units, which end the columns' names."""

    columns: tuple[str, ...]
    rows: Callable[[History, str], Iterator[Row]]
    """Gives an athlete's rows."""


def kind_of(column: str) -> Literal["word", "count", "number"]:
    """Say what a column holds."""
    return "word" if column in WORDS else "count" if column in COUNTS else "number"


def jump_row(athlete: str, kept: JumpRecord) -> Row:
    """Give an athlete's jump as a row of the table of jumps."""
    return (
        athlete, kept.on_date.isoformat(), _utc(kept.recorded_at), kept.exercise,
        kept.clip_name, kept.clip_sha256, kept.number,
        *(getattr(kept.jump, name) for name in JUMP_COLUMNS), kept.flightmark_version,
    )  # fmt: skip


def _jumps(history: History, athlete: str) -> Iterator[Row]:
    return (jump_row(athlete, kept) for kept in history.list_jumps(athlete))


def _splits(history: History, athlete: str) -> Iterator[Row]:
    for kept in history.list_splits(athlete):
        yield (
            athlete, kept.on_date.isoformat(), _utc(kept.recorded_at), kept.exercise,
            kept.clip_sha256, kept.number, kept.from_m, kept.to_m, kept.time_s, kept.time_sigma_s,
            kept.start_rule, kept.surface, kept.slope_pct,
        )  # fmt: skip


def _readings(history: History, athlete: str) -> Iterator[Row]:
    for kept in history.list_readings(athlete):
        yield (
            athlete, kept.on_date.isoformat(), kept.method, kept.exercise, kept.side,
            kept.quantity, kept.value, kept.sigma, kept.from_m, kept.to_m, kept.start_rule,
            kept.note,
        )  # fmt: skip


def _utc(moment: datetime | None) -> str | None:
    return moment and moment.strftime("%Y-%m-%dT%H:%M:%SZ")


TABLES = {
    "jumps": Table(
        ("athlete", "date", "recorded_at_utc", "exercise", "clip", "clip_sha256", "jump",
         *JUMP_COLUMNS, "flightmark_version"),
        _jumps,
    ),
    "splits": Table(
        ("athlete", "date", "recorded_at_utc", "exercise", "clip_sha256", "split", "from_m",
         "to_m", "time_s", "time_sigma_s", "start_rule", "surface", "slope_pct"),
        _splits,
    ),
    "readings": Table(
        ("athlete", "date", "method", "exercise", "side", "quantity", "value", "sigma", "from_m",
         "to_m", "start_rule", "note"),
        _readings,
    ),
}  # fmt: skip
