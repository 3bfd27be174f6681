"""Words on a picture, with the signs that the plain line font lacks."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Colour = tuple[int, int, int]

WHITE: Colour = (255, 255, 255)
BLACK: Colour = (0, 0, 0)
_FONT = cv2.FONT_HERSHEY_SIMPLEX
_CAPITAL_PX = 21.0
"""Height of a capital at font scale 1."""
_SIGN_WIDTH = 0.95
"""Width of a sign that the font lacks, in capitals."""
_OWN_SIGNS = "±°"
_SAID_OTHERWISE = str.maketrans({"–": "-", "—": "-", "’": "'", "·": "*", "−": "-", "…": "."})


def draw_text(
    picture: Bytes, text: str, at_px: tuple[float, float], *, capital_px: float,
    colour: Colour = WHITE, outlined: bool = True,
) -> None:  # fmt: skip
    """Write one line.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        Drawn upon.
    text : str
        Letters of the usual keyboard, ± and °; others become question marks.
    at_px : tuple of float
        Left end of the line that the letters stand on.
    capital_px : float
        Height of a capital letter.
    colour : tuple of int
    outlined : bool
        With a black rim, for a ground that may have any colour.
    """
    stroke = max(1, round(capital_px / 8))
    rim = stroke + 2 * max(1, round(capital_px / 8))
    for ink, width in ((BLACK, rim), (colour, stroke)) if outlined else ((colour, stroke),):
        x, y = at_px
        for part in _parts(text):
            if part in _OWN_SIGNS:
                _draw_sign(picture, part, (x, y), capital_px, ink, width)
            else:
                place = round(x), round(y)
                cv2.putText(picture, part, place, _FONT, capital_px / _CAPITAL_PX, ink, width,
                            cv2.LINE_AA)  # fmt: skip
            x += _part_width_px(part, capital_px)


def text_width_px(text: str, *, capital_px: float) -> float:
    """Width of one line."""
    return sum(_part_width_px(part, capital_px) for part in _parts(text))


def fit_capital_px(text: str, *, capital_px: float, width_px: float) -> float:
    """Height of a capital at which the line fits, ``capital_px`` at most."""
    wide = text_width_px(text, capital_px=capital_px)
    return capital_px if wide <= width_px else capital_px * width_px / wide


def _parts(text: str) -> Iterator[str]:
    """Runs of letters that the font has, and single signs that it lacks."""
    run = ""
    for letter in text.translate(_SAID_OTHERWISE):
        if letter in _OWN_SIGNS:
            if run:
                yield run
            yield letter
            run = ""
        else:
            run += letter if " " <= letter <= "~" else "?"
    if run:
        yield run


def _part_width_px(part: str, capital_px: float) -> float:
    if part in _OWN_SIGNS:
        return _SIGN_WIDTH * capital_px
    return float(cv2.getTextSize(part, _FONT, capital_px / _CAPITAL_PX, 1)[0][0])


def _draw_sign(
    picture: Bytes, sign: str, at_px: tuple[float, float], capital_px: float, ink: Colour,
    width: int,
) -> None:  # fmt: skip
    x, y = at_px[0] + 0.45 * capital_px, at_px[1]
    if sign == "°":
        middle = round(x), round(y - 0.8 * capital_px)
        cv2.circle(picture, middle, round(0.18 * capital_px), ink, width, cv2.LINE_AA)
        return
    arm = 0.32 * capital_px
    for x0, y0, x1, y1 in (
        (x - arm, y, x + arm, y),
        (x - arm, y - 0.55 * capital_px, x + arm, y - 0.55 * capital_px),
        (x, y - 0.55 * capital_px - arm, x, y - 0.55 * capital_px + arm),
    ):
        ends = (round(x0), round(y0)), (round(x1), round(y1))
        cv2.line(picture, *ends, ink, width, cv2.LINE_AA)
