"""What was measured, whose it is and when: kept in a database, whichever it is."""

from app.history.mapping import ResultRecord
from app.history.opening import open_history
from app.history.store import AthleteRecord, History

__all__ = ["AthleteRecord", "History", "ResultRecord", "open_history"]
