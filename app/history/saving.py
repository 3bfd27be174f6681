"""Many reports at once into the tables, without doubling what is there. One transaction's work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Select, func, select, update
from sqlalchemy.orm import Session, aliased

from app.columns import columns_from_report, hash_written
from app.history.bulk import (
    KEYS_PER_QUERY,
    find_ids,
    find_or_make,
    insert_missing,
    insert_rows,
    take_ids,
)
from app.history.models import Athlete, Clip, Jump, Result, Split, Sprint, TrainingSession
from app.history.review_models import Revision
from app.measured import Measured
from app.names import name_key, tidy_name

LONGEST_FILE_NAME = 255


@dataclass
class KnownAthlete:
    """What is asked again and again of an athlete."""

    athlete_id: int
    stature_m: float | None


@dataclass(frozen=True)
class Known:
    """What an import has found to be there already."""

    athletes: dict[str, KnownAthlete]
    """By ``name_key``; those that are made join them."""
    clips: dict[Any, int]
    """By athlete and content."""


def save_measured(
    session: Session, items: Sequence[Measured], *, known: Known | None = None
) -> list[int]:
    """Keep reports as the current results of their clips.

    Parameters
    ----------
    session : Session
        In a transaction that may write.
    items : sequence of Measured
        A later one of the same clip is newer.
    known : Known, optional
        What is there of them, where somebody has looked. Another writer who makes more of it
        meanwhile then turns this one back with an ``IntegrityError``.

    Returns
    -------
    list of int
        For each the key of its result; of the present one where the report equals it.

    Raises
    ------
    ValueError
        A name is no name, or a time has no zone.
    """
    names = [tidy_name(item.athlete) for item in items]
    for item in items:
        if item.saved_at.tzinfo is None:
            raise ValueError(f"saved_at: expected a time with its zone, got {item.saved_at!r}")
    athlete_ids = _keep_athletes(session, items, names, known)
    owners = [athlete_ids[name_key(name)] for name in names]
    session_ids = keep_sessions(
        session, [(owner, item.on_date) for owner, item in zip(owners, items, strict=True)],
        is_alone=known is not None,
    )  # fmt: skip
    clips = None if known is None else known.clips
    clip_ids, new_clip_ids = _keep_clips(session, items, owners, session_ids, clips)
    return _keep_results(session, items, clip_ids, new_clip_ids)


def find_athletes(session: Session, keys: Iterable[str]) -> dict[str, KnownAthlete]:
    """Give the athletes that are there, by ``name_key``."""
    found: dict[str, KnownAthlete] = {}
    for some in _in_parts(sorted(keys)):
        query = select(Athlete.name_key, Athlete.id, Athlete.stature_m)
        for key, *rest in session.execute(query.where(Athlete.name_key.in_(some))):
            found[key] = KnownAthlete(*rest)
    return found


def _keep_athletes(
    session: Session, items: Iterable[Measured], names: Sequence[str], known: Known | None
) -> dict[str, int]:
    """Make the athletes that are missing; give all keys by ``name_key``."""
    made_at: dict[str, datetime] = {}
    statures: dict[str, float] = {}
    for name, item in zip(names, items, strict=True):
        made_at[name] = item.saved_at
        if item.stature_m is not None:
            statures[name_key(name)] = item.stature_m
    rows = _athlete_rows(made_at, statures)
    athletes = find_athletes(session, rows) if known is None else known.athletes
    missing = {key: row for key, row in rows.items() if key not in athletes}
    others, made = find_or_make(session, Athlete, missing, columns=("name_key",))
    athletes |= {key: KnownAthlete(made[key], statures.get(key)) for key in made}
    athletes |= find_athletes(session, others)
    _keep_statures(session, athletes, statures)
    return {key: athletes[key].athlete_id for key in rows}


def _keep_statures(
    session: Session, athletes: dict[str, KnownAthlete], statures: dict[str, float]
) -> None:
    for key, stature_m in statures.items():
        athlete = athletes[key]
        if athlete.stature_m != stature_m:
            which = Athlete.id == athlete.athlete_id
            session.execute(update(Athlete).where(which).values(stature_m=stature_m))
            athlete.stature_m = stature_m


def keep_names(session: Session, created_at: dict[str, datetime]) -> dict[str, int]:
    """Make the athletes that are missing, each at its moment; give all keys by ``name_key``."""
    return insert_missing(session, Athlete, _athlete_rows(created_at, {}), columns=("name_key",))


def _athlete_rows(
    created_at: dict[str, datetime], statures: dict[str, float]
) -> dict[str, dict[str, Any]]:
    return {
        name_key(name): {
            "name": name, "name_key": name_key(name), "created_at": moment,
            "stature_m": statures.get(name_key(name)),
        }
        for name, moment in created_at.items()
    }  # fmt: skip


def _in_parts(keys: Sequence[int]) -> Iterator[Sequence[int]]:
    return (keys[at : at + KEYS_PER_QUERY] for at in range(0, len(keys), KEYS_PER_QUERY))


def keep_sessions(
    session: Session, days: Iterable[tuple[int, Any]], *, is_alone: bool = False
) -> dict[Any, int]:
    """Make the days of training that are missing; give all keys by athlete and day.

    ``is_alone`` says that another writer who makes one of them meanwhile may turn this one back.
    """
    rows = {(owner, day): {"athlete_id": owner, "on_date": day} for owner, day in days}
    columns = ("athlete_id", "on_date")
    if not is_alone:
        return insert_missing(session, TrainingSession, rows, columns=columns)
    found = find_ids(session, TrainingSession.__table__, list(rows), columns=columns)
    present, made = find_or_make(session, TrainingSession, rows, columns=columns, present=found)
    return present | made


def _keep_clips(
    session: Session, items: Sequence[Measured], owners: Sequence[int],
    session_ids: dict[Any, int], known: dict[Any, int] | None,
) -> tuple[list[int], set[int]]:  # fmt: skip
    """Make the clips that are missing; give each item's clip, and those that this made."""
    rows: dict[Any, dict[str, Any]] = {}
    for item, owner in zip(items, owners, strict=True):
        facts = item.report["clip"]
        key = (owner, facts["sha256"])
        rows.setdefault(key, {
            "athlete_id": owner, "session_id": session_ids[owner, item.on_date],
            "sha256": facts["sha256"], "file_name": tidy_file_name(item.clip_name),
            "recorded_at": read_moment(facts.get("recorded_at")), "added_at": item.saved_at,
        })  # fmt: skip
    present, made = find_or_make(
        session, Clip, rows, columns=("athlete_id", "sha256"), present=known
    )
    ids = present | made
    clip_ids = [
        ids[owner, item.report["clip"]["sha256"]]
        for item, owner in zip(items, owners, strict=True)
    ]  # fmt: skip
    return clip_ids, set(made.values())


def _keep_results(
    session: Session, items: Sequence[Measured], clip_ids: Sequence[int], new_clip_ids: set[int]
) -> list[int]:
    # A clip that was made in this very transaction has no result, and nobody else sees it yet.
    current = _lock_current(session, sorted(set(clip_ids) - new_clip_ids))
    kept: list[int | None] = []
    new: list[tuple[int, Measured]] = []
    pending: dict[int, tuple[int, Any]] = {}
    for clip_id, item in zip(clip_ids, items, strict=True):
        known = pending.get(clip_id, current.get(clip_id))
        if known is not None and known[1] == item.report:
            kept.append(known[0])
            if known[0] > 0:
                _note_request(session, known[0], item)
        else:
            new.append((clip_id, item))
            kept.append(-len(new))  # stands for the key that it will get
            pending[clip_id] = (-len(new), item.report)
    made = insert_results(session, new)
    return [made[-key - 1] if key < 0 else key for key in kept if key is not None]


def _lock_current(session: Session, clip_ids: Sequence[int]) -> dict[int, tuple[int, Any]]:
    """Give each clip's newest result, and keep other writers from adding one meanwhile."""
    found: dict[int, tuple[int, Any]] = {}
    for some in _in_parts(clip_ids):
        session.execute(
            select(Clip.id).where(Clip.id.in_(some)).order_by(Clip.id).with_for_update()
        )
        for clip_id, identity, report in session.execute(newest_of(some)):
            found[clip_id] = (identity, report)
    return found


def newest_of(clip_ids: Sequence[int]) -> Select[Any]:
    """Ask for clip, key and report of the newest result of each clip.

    Where somebody moved events of it by hand, the report is the one from before: measuring the
    same again doesn't undo that.
    """
    newest = (
        select(func.max(Result.id))
        .where(Result.clip_id.in_(clip_ids))
        .group_by(Result.clip_id)
    )  # fmt: skip
    measured = aliased(Result)
    return (
        select(Result.clip_id, Result.id, measured.report)
        .select_from(Result)
        .outerjoin(Revision, Revision.result_id == Result.id)
        .join(measured, measured.id == func.coalesce(Revision.base_result_id, Result.id))
        .where(Result.id.in_(newest))
    )


def _note_request(session: Session, result_id: int, item: Measured) -> None:
    noted: dict[str, Any] = {}
    if item.request is not None:
        noted |= {"request": item.request, "request_sha256": hash_written(item.request)}
    if item.track_sha256 is not None:
        noted["track_sha256"] = item.track_sha256
    if noted:
        session.execute(update(Result).where(Result.id == result_id).values(**noted))


def insert_result(session: Session, clip_id: int, report: dict[str, Any], *, now: datetime) -> int:
    """Keep a report as the current result of a clip."""
    measured = Measured(report, athlete="", on_date=now.date(), clip_name="", saved_at=now)
    return insert_results(session, [(clip_id, measured)])[0]


def insert_results(session: Session, new: Sequence[tuple[int, Measured]]) -> list[int]:
    """Keep reports as the current results of clips that are there; give their keys."""
    if not new:
        return []
    values = [item.columns or columns_from_report(item) for _, item in new]
    ids = take_ids(session, Result.__table__, len(new))
    tied = list(zip(ids, values, strict=True))
    rows = {
        Result: [
            {"id": key, "clip_id": clip_id, "report": item.report, "request": item.request,
             **each.result}
            for (key, each), (clip_id, item) in zip(tied, new, strict=True)
        ],
        Jump: [{"result_id": key, **jump} for key, each in tied for jump in each.jumps],
        Sprint: [{"result_id": key, **each.sprint} for key, each in tied if each.sprint],
        Split: [{"result_id": key, **split} for key, each in tied for split in each.splits],
    }  # fmt: skip
    for model, of_model in rows.items():
        insert_rows(session, model.__table__, of_model)
    return ids


def tidy_file_name(name: str) -> str:
    """Give a file's name as every database can hold it."""
    return name.encode("utf-8", "replace").decode().replace("\0", "?")[:LONGEST_FILE_NAME]


def read_moment(text: str | None) -> datetime | None:
    """Give the moment that a report names; one without a zone is taken as UTC."""
    if text is None:
        return None
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
