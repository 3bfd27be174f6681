"""Numbers with their doubt as people read them: centimetres and milliseconds live only here."""

from __future__ import annotations

import math
from collections.abc import Sequence

NOT_MEASURED = "–"


def show(value: float | None, sigma: float | None, *, per_unit: float = 1.0, least: int = 0) -> str:
    """Give ``value ± sigma`` with as many decimals as the doubt deserves.

    Parameters
    ----------
    value, sigma : float or None
        In SI units; nothing measured gives a dash.
    per_unit : float
        Shown units per SI unit: 100 for centimetres, 1000 for milliseconds.
    least : int
        Decimals to show at least.
    """
    if value is None:
        return NOT_MEASURED
    if sigma is None or sigma <= 0:
        return f"{value * per_unit:.{max(least, 2)}f}"
    shown_sigma = sigma * per_unit
    decimals = min(max(-math.floor(math.log10(shown_sigma)), least), 3)
    return f"{value * per_unit:.{decimals}f} ± {shown_sigma:.{decimals}f}"


def show_cm(value_m: float | None, sigma_m: float | None) -> str:
    """Give a length in centimetres."""
    return show(value_m, sigma_m, per_unit=100.0, least=1)


def show_ms(value_s: float | None, sigma_s: float | None) -> str:
    """Give a duration in milliseconds."""
    return show(value_s, sigma_s, per_unit=1000.0)


def lay_out(rows: Sequence[Sequence[str]], *, indent: str = "  ") -> list[str]:
    """Give rows of words as lines with aligned columns; columns without any number go.

    The first row holds the names of the columns.
    """
    kept = [
        column
        for column in zip(*rows, strict=True)
        if any(cell != NOT_MEASURED for cell in column[1:])
    ]
    widths = [max(len(cell) for cell in column) for column in kept]
    return [
        (indent + "   ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)))
        .rstrip()
        for row in zip(*kept, strict=True)
    ]  # fmt: skip


def plain(text: str) -> str:
    """Give a name from outside without anything that could drive a terminal."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
