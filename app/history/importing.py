"""Exported results into the history: each once, however often the file is read."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import select, tuple_
from sqlalchemy.orm import Session

from app.history.mapping import Measured
from app.history.models import Athlete, Clip, Result
from app.history.saving import KEYS_PER_QUERY, save_measured
from app.names import name_key


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
    owners: dict[str, int] = {}
    for start in range(0, len(names), KEYS_PER_QUERY):
        some = names[start : start + KEYS_PER_QUERY]
        rows = session.execute(
            select(Athlete.name_key, Athlete.id).where(Athlete.name_key.in_(some))
        )
        owners |= {name: identity for name, identity in rows}
    by_clip = {(owners[name], sha256): (name, sha256) for name, sha256 in keys if name in owners}
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for start in range(0, len(by_clip), KEYS_PER_QUERY):
        some_clips = list(by_clip)[start : start + KEYS_PER_QUERY]
        query = (
            select(Clip.athlete_id, Clip.sha256, Result.report)
            .join(Result, Result.clip_id == Clip.id)
            .where(tuple_(Clip.athlete_id, Clip.sha256).in_(some_clips))
        )
        for owner, sha256, report in session.execute(query):
            found.setdefault(by_clip[owner, sha256], []).append(report)
    return found
