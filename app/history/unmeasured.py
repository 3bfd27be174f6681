"""By what means a clip was measured, and whether that was done already."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.history.bulk import insert_or_leave
from app.history.models import Athlete, Clip, Result, Unmeasured
from app.history.review_models import Revision
from app.history.saving import keep_names, tidy_file_name
from app.names import name_key, tidy_name
from measure.report import Versions


@dataclass(frozen=True)
class MeasuredBy:
    """One clip of one athlete, and what measures it."""

    athlete: str
    clip_sha256: str
    request_sha256: str
    versions: Versions


def is_up_to_date(session: Session, key: MeasuredBy) -> bool:
    """Say whether the clip's newest result is by these means."""
    newest = (
        select(func.coalesce(Revision.base_result_id, Result.id).label("id"))
        .select_from(Result)
        .outerjoin(Revision, Revision.result_id == Result.id)
        .join(Clip, Clip.id == Result.clip_id)
        .join(Athlete, Athlete.id == Clip.athlete_id)
        .where(Athlete.name_key == name_key(key.athlete), Clip.sha256 == key.clip_sha256)
        .order_by(Result.id.desc())
        .limit(1)
        .scalar_subquery()
    )
    measured = select(Result.id).where(Result.id == newest, *_same_means(Result, key))
    return session.execute(measured).first() is not None


def why_unmeasured(session: Session, key: MeasuredBy) -> str | None:
    """Give why the clip has no number by these means, None where that isn't known."""
    refused = (
        select(Unmeasured.reason)
        .join(Athlete, Athlete.id == Unmeasured.athlete_id)
        .where(
            Athlete.name_key == name_key(key.athlete),
            Unmeasured.clip_sha256 == key.clip_sha256,
            *_same_means(Unmeasured, key),
        )
    )
    return session.scalar(refused)


def note_unmeasured(
    session: Session, key: MeasuredBy, *, clip_name: str, reason: str, noted_at: datetime
) -> None:
    """Note that a clip gives no number by these means."""
    name = tidy_name(key.athlete)
    owner = keep_names(session, {name: noted_at})[name_key(name)]
    row = {
        "athlete_id": owner, "clip_sha256": key.clip_sha256,
        "file_name": tidy_file_name(clip_name), "request_sha256": key.request_sha256,
        "flightmark_version": key.versions.flightmark, "pose_model": key.versions.pose_model,
        "settings_sha256": key.versions.settings_sha256, "reason": reason, "created_at": noted_at,
    }  # fmt: skip
    insert_or_leave(session, Unmeasured.__table__, [row])


def _same_means(columns: Any, key: MeasuredBy) -> list[ColumnElement[bool]]:
    return [
        columns.request_sha256 == key.request_sha256,
        columns.flightmark_version == key.versions.flightmark,
        columns.pose_model == key.versions.pose_model,
        columns.settings_sha256 == key.versions.settings_sha256,
    ]
