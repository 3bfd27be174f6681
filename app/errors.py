"""What the application raises beside the measuring room's own errors."""

from __future__ import annotations

from measure.errors import FlightmarkError


class HistoryFailed(FlightmarkError):
    """The history could not be opened, read or written; what it held before is untouched."""


class StoreFailed(FlightmarkError):
    """A clip or track could not be kept or fetched; what was kept before is untouched."""


class JobsFailed(FlightmarkError):
    """The workers that measure can't be reached; what they gave before is saved."""
