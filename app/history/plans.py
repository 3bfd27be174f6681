"""The plan: what a team does on which day, and what of it was ticked off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from sqlalchemy import Select, delete, select
from sqlalchemy.orm import Session

from app.history.plan_models import PlannedEntry, PlannedSession, TickedEntry
from app.history.transactions import Transactions


@dataclass(frozen=True)
class Entry:
    """One line of a session."""

    text: str
    exercise: str | None = None
    sets: int = 1
    repetitions: int = 1
    is_each_side: bool = False
    rest_s: float | None = None
    pause_s: float | None = None
    target: str = ""
    pair: str = ""
    entry_id: int | None = None

    @property
    def repetition_count(self) -> int:
        """All repetitions, both sides."""
        return self.sets * self.repetitions * (2 if self.is_each_side else 1)


@dataclass(frozen=True)
class PlannedDay:
    """One planned session."""

    team_id: int
    on_date: date
    title: str
    entries: tuple[Entry, ...]


class Plans:
    """The teams' plans.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def save_day(self, day: PlannedDay) -> None:
        """Keep a session; lines that stay keep what was ticked off. Without lines it goes."""

        def act(session: Session) -> None:
            row = session.scalar(_day(day.team_id, day.on_date))
            if not day.entries:
                if row is not None:
                    session.delete(row)
                return
            if row is None:
                row = PlannedSession(team_id=day.team_id, on_date=day.on_date)
                session.add(row)
            row.title = day.title.strip()[:100]
            session.flush()
            _save_entries(session, row.id, day.entries)

        self._at.write(act)

    def list_days(self, team_ids: Sequence[int], *, first: date, last: date) -> list[PlannedDay]:
        """Give the planned sessions of some days in order."""

        def act(session: Session) -> list[PlannedDay]:
            rows = session.scalars(
                select(PlannedSession)
                .where(
                    PlannedSession.team_id.in_(team_ids),
                    PlannedSession.on_date.between(first, last),
                )
                .order_by(PlannedSession.on_date, PlannedSession.team_id)
            ).all()
            entries = session.scalars(
                select(PlannedEntry)
                .where(PlannedEntry.session_id.in_([row.id for row in rows]))
                .order_by(PlannedEntry.place)
            ).all()
            return [
                PlannedDay(
                    row.team_id, row.on_date, row.title,
                    tuple(_entry(each) for each in entries if each.session_id == row.id),
                )
                for row in rows
            ]  # fmt: skip

        return self._at.read(act)

    def copy_week(
        self, team_id: int, *, monday: date, more_sets: int = 0, more_repetitions: int = 0
    ) -> int:
        """Copy a week to the next one, a little more of each filmed exercise where asked.

        Returns
        -------
        int
            How many sessions were copied; days that are planned already stay as they are.
        """
        next_monday = monday + timedelta(days=7)
        days = self.list_days([team_id], first=monday, last=monday + timedelta(days=6))
        taken = self.list_days([team_id], first=next_monday, last=next_monday + timedelta(days=6))
        count = 0
        for day in days:
            on_date = day.on_date + timedelta(days=7)
            if any(other.on_date == on_date for other in taken):
                continue
            entries = tuple(_more(each, more_sets, more_repetitions) for each in day.entries)
            self.save_day(replace(day, on_date=on_date, entries=entries))
            count += 1
        return count

    def tick(self, entry_id: int, *, athlete_id: int, is_done: bool, now: datetime) -> None:
        """Keep, or take back, that an athlete did an entry."""

        def act(session: Session) -> None:
            row = session.get(TickedEntry, (entry_id, athlete_id))
            if is_done and row is None:
                session.add(TickedEntry(entry_id=entry_id, athlete_id=athlete_id, ticked_at=now))
            elif not is_done and row is not None:
                session.delete(row)

        self._at.write(act)

    def list_ticks(self, entry_ids: Sequence[int]) -> set[tuple[int, int]]:
        """Give pairs of entry and athlete that were ticked off."""
        query = select(TickedEntry.entry_id, TickedEntry.athlete_id).where(
            TickedEntry.entry_id.in_(entry_ids)
        )
        return self._at.read(lambda s: {(row[0], row[1]) for row in s.execute(query)})


def _day(team_id: int, on_date: date) -> Select[Any]:
    return select(PlannedSession).where(
        PlannedSession.team_id == team_id, PlannedSession.on_date == on_date
    )


def _save_entries(session: Session, session_id: int, entries: Sequence[Entry]) -> None:
    kept = [entry.entry_id for entry in entries if entry.entry_id is not None]
    session.execute(
        delete(PlannedEntry).where(
            PlannedEntry.session_id == session_id, PlannedEntry.id.not_in(kept)
        )
    )
    for place, entry in enumerate(entries, start=1):
        row = session.get(PlannedEntry, entry.entry_id) if entry.entry_id else None
        if row is None or row.session_id != session_id:
            row = PlannedEntry(session_id=session_id)
            session.add(row)
        row.place, row.pair, row.exercise = place, entry.pair.strip()[:5], entry.exercise
        row.text, row.target = entry.text.strip()[:200], entry.target.strip()[:100]
        row.sets, row.repetitions = entry.sets, entry.repetitions
        row.is_each_side, row.rest_s, row.pause_s = entry.is_each_side, entry.rest_s, entry.pause_s


def _entry(row: PlannedEntry) -> Entry:
    return Entry(
        row.text, row.exercise, row.sets, row.repetitions, row.is_each_side, row.rest_s,
        row.pause_s, row.target, row.pair, row.id,
    )  # fmt: skip


def _more(entry: Entry, more_sets: int, more_repetitions: int) -> Entry:
    if entry.exercise is None:
        return replace(entry, entry_id=None)
    return replace(
        entry, entry_id=None, sets=entry.sets + more_sets,
        repetitions=entry.repetitions + more_repetitions,
    )  # fmt: skip
