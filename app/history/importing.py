"""Exported results into the history: each once, however often the file is read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.history.bulk import KEYS_PER_QUERY, find_ids
from app.history.models import Clip, Result
from app.history.saving import Known, KnownAthlete, find_athletes, save_measured
from app.measured import Measured
from app.names import name_key


@dataclass(frozen=True)
class Imported:
    """What came of an import."""

    count: int
    new_count: int


def import_all(session: Session, parts: Iterable[Sequence[Measured]]) -> Imported:
    """Keep results that their clips don't have yet, some at a time."""
    count = new_count = 0
    athletes: dict[str, KnownAthlete] = {}
    for some in parts:
        new_count += _import_some(session, some, athletes)
        count += len(some)
    return Imported(count, new_count)


def _import_some(
    session: Session, items: Sequence[Measured], athletes: dict[str, KnownAthlete]
) -> int:
    """Keep results that their clips don't have yet, newest or not; give how many were new.

    Athletes that are found or made join those that are known.
    """
    athletes |= find_athletes(session, {name_key(item.athlete) for item in items} - athletes.keys())
    owners = [athletes.get(name_key(item.athlete)) for item in items]
    keys = [
        (owner and owner.athlete_id, item.report["clip"]["sha256"])
        for owner, item in zip(owners, items, strict=True)
    ]
    asked = sorted({key for key in keys if key[0] is not None})
    clips = find_ids(session, Clip.__table__, asked, columns=("athlete_id", "sha256"))
    reports = _reports(session, list(clips.values()))
    new = [
        item
        for key, item in zip(keys, items, strict=True)
        if item.report not in reports.get(clips.get(key, 0), ())
    ]
    if new:
        save_measured(session, new, known=Known(athletes, clips))
    return len(new)


def _reports(session: Session, clip_ids: Sequence[int]) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = {}
    for start in range(0, len(clip_ids), KEYS_PER_QUERY):
        some = clip_ids[start : start + KEYS_PER_QUERY]
        query = select(Result.clip_id, Result.report).where(Result.clip_id.in_(some))
        for clip_id, report in session.execute(query):
            found.setdefault(clip_id, []).append(report)
    return found
