"""What the package raises when a clip or a setting makes measuring impossible."""

from __future__ import annotations


class FlightmarkError(Exception):
    """One sentence that says what was seen and one that says what to do.

    Parameters
    ----------
    seen : str
        What is wrong with the input.
    remedy : str
        What the person can do about it.
    """

    def __init__(self, seen: str, remedy: str) -> None:
        super().__init__(f"{seen} {remedy}")
        self.seen = seen
        self.remedy = remedy


class UnreadableClip(FlightmarkError):
    """The file is not a video that can be decoded."""


class NothingToMeasure(FlightmarkError):
    """The clip plays, and holds no athlete that can be followed."""


class OutputFailed(FlightmarkError):
    """A result could not be written."""
