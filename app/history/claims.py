"""Which server measures which clip: several on one database never take each other's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import ColumnElement, or_, select, update

from app.history.review_models import ClipJob
from app.history.transactions import Transactions

MOST_LOST = 3
"""A clip under which this many servers vanished is not tried again: it may be the reason."""
LOST = (
    "The server stopped each time while it measured this clip.",
    "Tell whoever runs this; a shorter clip may go through.",
)
RUNNING = ClipJob.status == "running"


class Claims:
    """What servers hold.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def beat(self, server: str, *, now: datetime) -> None:
        """Say that a server is still there."""
        query = update(ClipJob).where(RUNNING, ClipJob.server == server).values(beat_at=now)
        self._at.write(lambda s: s.execute(query))

    def list_servers(self) -> list[str]:
        """Give the servers that have clips measured."""
        query = select(ClipJob.server).where(RUNNING).distinct()
        return self._at.read(lambda s: [server for server in s.scalars(query) if server])

    def let_go(self, server: str) -> None:
        """Queue again what a server that stops has not finished; that is not the clip's fault."""
        values = {"status": "waiting", "claim": None, "attempt": ClipJob.attempt - 1}
        query = update(ClipJob).where(RUNNING, ClipJob.server == server).values(values)
        self._at.write(lambda s: s.execute(query))

    def put_back_lost(
        self, *, before: datetime, now: datetime, servers: Sequence[str] = ()
    ) -> None:
        """Queue again what nobody measures any more.

        Parameters
        ----------
        before : datetime
            Servers that last said something before are gone.
        now : datetime
        servers : sequence of str
            Those that are known to be gone.
        """
        is_old = or_(ClipJob.beat_at.is_(None), ClipJob.beat_at < before)
        lost = or_(is_old, ClipJob.server.in_(servers))
        self._put_back(lost, ClipJob.attempt < MOST_LOST, values={"status": "waiting"})
        message, hint = LOST
        ended = {"status": "failed", "message": message, "hint": hint, "finished_at": now}
        self._put_back(lost, values=ended)

    def list_unwanted(self, claims: Sequence[str]) -> set[str]:
        """Give those of some claims that were cancelled or whose athlete is gone."""
        query = select(ClipJob.claim, ClipJob.status).where(ClipJob.claim.in_(claims))
        kept = self._at.read(lambda s: {claim: status for claim, status in s.execute(query)})
        return {claim for claim in claims if kept.get(claim, "cancelled") == "cancelled"}

    def _put_back(self, *which: ColumnElement[bool], values: dict[str, object]) -> None:
        query = update(ClipJob).where(RUNNING, *which).values({**values, "claim": None})
        self._at.write(lambda s: s.execute(query))
