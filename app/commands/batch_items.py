"""What a folder or a manifest asks to be measured."""

from __future__ import annotations

import csv
import dataclasses
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.commands.values import (
    CAPTURE_RATE_HZ,
    STATURE_M,
    number_within,
    read_athlete,
    read_date,
)
from app.exercises import EXERCISE_NAMES
from measure.request import ClipRequest

if TYPE_CHECKING:
    from app.jobs.batch import BatchItem

FILM_ENDINGS = {".mp4", ".mov", ".m4v", ".avi", ".mkv", ".webm", ".3gp", ".mts", ".m2ts", ".mpg"}
COLUMNS = (
    "file", "athlete", "exercise", "stature_m", "date", "sex", "capture_rate_hz", "lane",
)  # fmt: skip
NEEDED = ("file", "athlete")
LONGEST_FAULT_LIST = 20


class WrongManifest(ValueError):
    """What is wrong with a folder or manifest, one line for each fault."""


def list_folder(
    folder: Path, *, athlete: str | None, on_date: date | None, exercise: str | None
) -> list[BatchItem]:
    """Give the clips of a folder: of one athlete, or of those after whom its folders are named.

    Raises
    ------
    WrongManifest
        A clip belongs to nobody, or there is none.
    """
    from app.jobs.batch import BatchItem

    clips = sorted(
        path
        for path in folder.rglob("*")
        if path.suffix.lower() in FILM_ENDINGS and path.is_file() and not _is_hidden(path, folder)
    )
    ownerless = [path.name for path in clips if athlete is None and path.parent == folder]
    if ownerless:
        raise WrongManifest(
            f"Whose are {', '.join(ownerless[:5])}? Give --athlete, or put each athlete's clips "
            "into a folder with the athlete's name."
        )
    if not clips:
        raise WrongManifest(f"There is no clip in {folder}.")
    return [
        BatchItem(
            athlete or _owner(path, folder), ClipRequest(path, exercise=exercise), on_date
        )
        for path in clips
    ]  # fmt: skip


def read_manifest(path: Path) -> list[BatchItem]:
    """Read a CSV file with a line for each clip; paths count from the manifest's own folder.

    Raises
    ------
    WrongManifest
        With every fault, by line.
    """
    try:
        with open(path, encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file, strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise WrongManifest(f"{path} can't be read ({error}).") from error
    _check_columns(path, rows)
    items: list[BatchItem] = []
    faults: list[str] = []
    for number, row in enumerate(rows, start=2):
        try:
            items.append(_item(row, path.parent))
        except ValueError as error:
            faults.append(f"line {number}: {error}")
    if faults:
        more = len(faults) - LONGEST_FAULT_LIST
        shown = faults[:LONGEST_FAULT_LIST] + ([f"and {more} more"] if more > 0 else [])
        raise WrongManifest("\n  ".join([f"{path.name}:", *shown]))
    return items


def _check_columns(path: Path, rows: list[dict[str, Any]]) -> None:
    if not rows:
        raise WrongManifest(f"{path} has no lines below its column names.")
    missing = [name for name in NEEDED if name not in rows[0]]
    unknown = [str(name) for name in rows[0] if name not in COLUMNS]
    if missing or unknown:
        told = [f"no column {name}" for name in missing] + [f"unknown {name}" for name in unknown]
        raise WrongManifest(f"{path}: {', '.join(told)}. Columns are {', '.join(COLUMNS)}.")


def _item(row: dict[str, str | None], folder: Path) -> BatchItem:
    from app.jobs.batch import BatchItem

    if None in row.values():
        raise ValueError("expected as many values as there are columns")
    given = {name: text.strip() for name, text in row.items() if text and text.strip()}
    if missing := [name for name in NEEDED if name not in given]:
        raise ValueError(f"{missing[0]}: expected a value, got none")
    request = ClipRequest(
        folder / given["file"],
        exercise=_read(given, "exercise", _one_of(tuple(EXERCISE_NAMES))),
        stature_m=_read(given, "stature_m", number_within(STATURE_M)),
        sex=_read(given, "sex", _one_of(("female", "male"))),
        capture_rate_hz=_read(given, "capture_rate_hz", number_within(CAPTURE_RATE_HZ)),
        lane=_read(given, "lane", lambda text: folder / text),
    )
    return BatchItem(
        _read(given, "athlete", read_athlete), request, _read(given, "date", read_date)
    )


def _read(given: dict[str, str], name: str, reader: Callable[[str], Any]) -> Any:
    import argparse

    try:
        return reader(given[name]) if name in given else None
    except argparse.ArgumentTypeError as error:
        raise ValueError(f"{name}: {error}") from None


def _one_of(choices: tuple[str, ...]) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in choices:
            raise ValueError(f"expected one of {', '.join(choices)}, got {text!r}")
        return text

    return read


def _owner(path: Path, folder: Path) -> str:
    import argparse

    try:
        return read_athlete(path.relative_to(folder).parts[0])
    except argparse.ArgumentTypeError as error:
        raise WrongManifest(str(error)) from None


def _is_hidden(path: Path, folder: Path) -> bool:
    return any(part.startswith(".") for part in path.relative_to(folder).parts)


def with_exercise(items: list[BatchItem], exercise: str | None) -> list[BatchItem]:
    """Give items that say no exercise this one."""
    if exercise is None:
        return items
    return [
        item
        if item.request.exercise
        else dataclasses.replace(item, request=dataclasses.replace(item.request, exercise=exercise))
        for item in items
    ]
