"""Numbers measured by other means: a table of their own, so that nothing mixes by accident."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.exchange.readings import Reading
from app.history.bulk import insert_or_leave
from app.history.models import Athlete, OtherReading, TrainingSession
from app.history.saving import keep_names, keep_sessions
from app.names import name_key


def save_readings(session: Session, readings: Sequence[Reading], *, imported_at: datetime) -> int:
    """Keep readings; a file that is read twice adds nothing the second time.

    Equal readings of one day in one call are trials of their own.
    """
    owners = keep_names(session, {reading.athlete: imported_at for reading in readings})
    keys = [owners[name_key(reading.athlete)] for reading in readings]
    days = keep_sessions(
        session, [(key, reading.on_date) for key, reading in zip(keys, readings, strict=True)]
    )
    seen: Counter[Any] = Counter()
    rows = []
    for key, reading in zip(keys, readings, strict=True):
        session_id = days[key, reading.on_date]
        rows.append(_row(reading, key, session_id, repeat=seen[session_id, reading]))
        seen[session_id, reading] += 1
        rows[-1]["imported_at"] = imported_at
    before = _count(session)
    insert_or_leave(session, OtherReading.__table__, rows)
    return _count(session) - before


def list_readings(session: Session, athlete: str) -> list[Reading]:
    """Give an athlete's readings from the oldest day to the newest."""
    row = OtherReading
    query = (
        select(
            Athlete.name, TrainingSession.on_date, row.method, row.quantity, row.value, row.sigma,
            row.exercise, row.side, row.from_m, row.to_m, row.start_rule, row.note,
        )
        .join(TrainingSession, TrainingSession.id == row.session_id)
        .join(Athlete, Athlete.id == row.athlete_id)
        .where(Athlete.name_key == name_key(athlete))
        .order_by(TrainingSession.on_date, row.id)
    )  # fmt: skip
    return [Reading(*each) for each in session.execute(query)]


def _row(reading: Reading, athlete_id: int, session_id: int, *, repeat: int) -> dict[str, Any]:
    return {
        "athlete_id": athlete_id, "session_id": session_id, "method": reading.method,
        "exercise": reading.exercise, "side": reading.side, "quantity": reading.quantity,
        "from_m": reading.from_m, "to_m": reading.to_m, "start_rule": reading.start_rule,
        "value": reading.value, "sigma": reading.sigma, "note": reading.note,
        "reading_sha256": reading.sha256(repeat=repeat),
    }  # fmt: skip


def _count(session: Session) -> int:
    return session.scalar(select(func.count()).select_from(OtherReading)) or 0
