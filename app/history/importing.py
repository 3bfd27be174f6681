"""Exported results into the history: each once, however often the file is read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.history.bulk import KEYS_PER_QUERY, find_ids
from app.history.mapping import Measured
from app.history.models import Athlete, Clip, Result
from app.history.saving import save_measured
from app.names import name_key


@dataclass(frozen=True)
class Imported:
    """What came of an import."""

    count: int
    new_count: int


def import_all(session: Session, parts: Iterable[Sequence[Measured]]) -> Imported:
    """Keep results that their clips don't have yet, some at a time."""
    count = new_count = 0
    for some in parts:
        new_count += import_measured(session, some)
        count += len(some)
    return Imported(count, new_count)


def import_measured(session: Session, items: Sequence[Measured]) -> int:
    """Keep results that their clips don't have yet, newest or not; give how many were new."""
    names = sorted({name_key(item.athlete) for item in items})
    owners = find_ids(session, Athlete.__table__, names, columns=("name_key",))
    keys = [(owners.get(name_key(item.athlete)), item.report["clip"]["sha256"]) for item in items]
    asked = sorted({key for key in keys if key[0] is not None})
    clips = find_ids(session, Clip.__table__, asked, columns=("athlete_id", "sha256"))
    reports = _reports(session, list(clips.values()))
    new = [
        item
        for key, item in zip(keys, items, strict=True)
        if item.report not in reports.get(clips.get(key, 0), ())
    ]
    if new:
        save_measured(session, new, clips=clips)
    return len(new)


def _reports(session: Session, clip_ids: Sequence[int]) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = {}
    for start in range(0, len(clip_ids), KEYS_PER_QUERY):
        some = clip_ids[start : start + KEYS_PER_QUERY]
        query = select(Result.clip_id, Result.report).where(Result.clip_id.in_(some))
        for clip_id, report in session.execute(query):
            found.setdefault(clip_id, []).append(report)
    return found
