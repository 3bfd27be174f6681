"""Marked lanes and lengths, by team and name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.history.review_models import Place
from app.history.transactions import Transactions
from app.names import name_key, tidy_name


@dataclass(frozen=True)
class PlaceRecord:
    """A marked place."""

    place_id: int
    team_id: int
    name: str
    setup: dict[str, Any]
    saved_at: datetime


class Places:
    """Kept places.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def save_place(self, team_id: int, *, name: str, setup: dict[str, Any], now: datetime) -> int:
        """Keep a marked lane or length under a name; the same name is the same place."""

        def act(session: Session) -> int:
            row = session.scalar(
                select(Place).where(Place.team_id == team_id, Place.name_key == name_key(name))
            )
            if row is None:
                row = Place(team_id=team_id, name_key=name_key(name))
                session.add(row)
            row.name, row.setup, row.saved_at = tidy_name(name), setup, now
            session.flush()
            return row.id

        return self._at.write(act)

    def list_places(self, team_ids: Sequence[int]) -> list[PlaceRecord]:
        """Give the teams' places by name."""
        query = select(Place).where(Place.team_id.in_(team_ids)).order_by(Place.name_key)
        return self._at.read(
            lambda s: [
                PlaceRecord(row.id, row.team_id, row.name, row.setup, row.saved_at)
                for row in s.scalars(query)
            ]
        )
