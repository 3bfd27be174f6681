"""What was measured, whose it is and when: kept in a database, whichever it is."""

from app.history.opening import open_history
from app.history.reading import JumpRecord, SplitRecord
from app.history.store import AthleteRecord, History
from app.history.unmeasured import MeasuredBy
from app.measured import Measured, ResultRecord

__all__ = [
    "AthleteRecord", "History", "JumpRecord", "Measured", "MeasuredBy", "ResultRecord",
    "SplitRecord", "open_history",
]  # fmt: skip

from app.history import accounts_models, plan_models, review_models  # noqa: F401  # tables
