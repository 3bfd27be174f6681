"""One line on a terminal that says how far long work is."""

from __future__ import annotations

from typing import TextIO


class ProgressLine:
    """Shows steps on one line of a terminal; on anything else it keeps silent.

    Parameters
    ----------
    stream : TextIO
        Usually standard error.
    name : str
        What is worked on.
    """

    def __init__(self, stream: TextIO, name: str) -> None:
        self._stream = stream
        self._name = name
        self._shown = ""
        self._is_terminal = stream.isatty()

    def __call__(self, step: str, fraction: float) -> None:
        """Show a step and the part of it that is done, 0 to 1."""
        percent = int(100 * min(max(fraction, 0.0), 1.0))
        line = f"{self._name}: {step} {percent:3d} %"
        if self._is_terminal and line != self._shown:
            self._stream.write(f"\r{line.ljust(len(self._shown))}")
            self._stream.flush()
            self._shown = line

    def __enter__(self) -> ProgressLine:
        return self

    def __exit__(self, *_exception: object) -> None:
        if self._shown:
            self._stream.write(f"\r{' ' * len(self._shown)}\r")
            self._stream.flush()
            self._shown = ""
