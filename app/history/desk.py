"""Everything that the pages ask of the database, over one open history."""

from __future__ import annotations

from app.history.clip_jobs import ClipJobs
from app.history.numbers import Numbers
from app.history.opening import open_history
from app.history.people import People
from app.history.plans import Plans
from app.history.reviews import Reviews
from app.history.store import History
from app.history.transactions import Transactions


class Desk:
    """The rooms of an open history.

    Parameters
    ----------
    history : History
    """

    def __init__(self, history: History) -> None:
        at = Transactions(history._engine)
        self.history = history
        self.people = People(at)
        self.jobs = ClipJobs(at)
        self.reviews = Reviews(at)
        self.plans = Plans(at)
        self.numbers = Numbers(at)

    def close(self) -> None:
        """Let go of the database."""
        self.history.close()


def open_desk(url: str | None = None) -> Desk:
    """Open the history at an address for the pages.

    Raises
    ------
    HistoryFailed
        As of ``open_history``.
    """
    return Desk(open_history(url))
