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
    keys = [_key(item) for item in items]
    present = _reports(session, sorted(set(keys)))
    new = [
        item
        for key, item in zip(keys, items, strict=True)
        if item.report not in present.get(key, ())
    ]
    if new:
        save_measured(session, new)
    return len(new)


def _key(item: Measured) -> tuple[str, str]:
    return name_key(item.athlete), item.report["clip"]["sha256"]


def _reports(
    session: Session, keys: Sequence[tuple[str, str]]
) -> dict[tuple[str, str], list[dict[str, Any]]]:
    names = sorted({name for name, _ in keys})
    owners = find_ids(session, Athlete.__table__, names, columns=("name_key",))
    by_owner = {(owners[name], sha256): (name, sha256) for name, sha256 in keys if name in owners}
    clips = find_ids(session, Clip.__table__, list(by_owner), columns=("athlete_id", "sha256"))
    by_clip = {clip_id: by_owner[key] for key, clip_id in clips.items()}
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for start in range(0, len(by_clip), KEYS_PER_QUERY):
        some = list(by_clip)[start : start + KEYS_PER_QUERY]
        query = select(Result.clip_id, Result.report).where(Result.clip_id.in_(some))
        for clip_id, report in session.execute(query):
            found.setdefault(by_clip[clip_id], []).append(report)
    return found
