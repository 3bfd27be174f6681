"""Drawing on a picture: words, a skeleton, feet on the ground or not.

Every function draws on the array that it is given. Places are edge-based pixels of it. Left is
orange with a filled mark, right is blue with an open one, so that colour is never needed to tell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.io.moments import FootState
from measure.types import FOOT_LANDMARKS, Floats, Foot, Landmark

Bytes = NDArray[np.uint8]
Colour = tuple[int, int, int]

LEFT: Colour = (255, 166, 38)
RIGHT: Colour = (92, 190, 255)
MIDDLE: Colour = (255, 255, 255)
BLACK: Colour = (0, 0, 0)
GREY: Colour = (170, 170, 170)
FOOT_COLOURS: Mapping[Foot, Colour] = {"left": LEFT, "right": RIGHT}

SURE_VISIBILITY = 0.5
"""Limbs that the pose model believes in less than this are drawn thin."""
FINE_BITS = 4
"""Lines are placed to a sixteenth of a pixel."""
_FONT = cv2.FONT_HERSHEY_SIMPLEX
_CAPITAL_PX = 21.0
"""Height of a capital at font scale 1."""
_SIGN_WIDTH = 0.95
"""Width of a sign that the font lacks, in capitals."""
_OWN_SIGNS = "±°"
_SAID_OTHERWISE = str.maketrans({"–": "-", "—": "-", "’": "'", "·": "*", "−": "-", "…": "."})


def _bones() -> Iterator[tuple[Landmark, Landmark, Colour]]:
    for side, colour in (("LEFT", LEFT), ("RIGHT", RIGHT)):
        joints = {
            name: Landmark[f"{side}_{name}"]
            for name in ("SHOULDER", "ELBOW", "WRIST", "HIP", "KNEE", "ANKLE", "HEEL", "TOE")
        }
        for first, second in (
            ("SHOULDER", "ELBOW"), ("ELBOW", "WRIST"), ("HIP", "KNEE"), ("KNEE", "ANKLE"),
            ("ANKLE", "HEEL"), ("HEEL", "TOE"), ("ANKLE", "TOE"),
        ):  # fmt: skip
            yield joints[first], joints[second], colour
        yield joints["SHOULDER"], joints["HIP"], MIDDLE
    yield Landmark.LEFT_SHOULDER, Landmark.RIGHT_SHOULDER, MIDDLE
    yield Landmark.LEFT_HIP, Landmark.RIGHT_HIP, MIDDLE


BONES = tuple(_bones())
JOINTS = tuple(dict.fromkeys(end for first, second, _ in BONES for end in (first, second)))


def draw_text(
    picture: Bytes, text: str, at_px: tuple[float, float], *, capital_px: float,
    colour: Colour = MIDDLE, outlined: bool = True,
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
    stroke = max(1, round(capital_px / 9))
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


def draw_line(
    picture: Bytes, first_px: Floats, second_px: Floats, *, colour: Colour, width_px: int = 1
) -> None:
    """Draw a line; nothing where an end is not finite."""
    if np.isfinite([first_px, second_px]).all():
        ends = _fine(first_px), _fine(second_px)
        cv2.line(picture, *ends, colour, width_px, cv2.LINE_AA, FINE_BITS)


def _fine(point_px: Floats) -> tuple[int, int]:
    """Edge-based place in sixteenths, where cv2 has the first pixel's centre at 0."""
    x, y = np.rint((np.clip(point_px, -5e3, 2e4) - 0.5) * (1 << FINE_BITS)).astype(int).tolist()
    return x, y


def draw_skeleton(picture: Bytes, points_px: Floats, visibility: Floats) -> None:
    """Draw a body's bones and joints.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        Drawn upon.
    points_px : ndarray of shape (33, 2)
        In the picture's pixels; what is NaN is left out.
    visibility : ndarray of shape (33,)
        Limbs that are hardly seen are drawn thin.
    """
    width_px = _pen_px(points_px)
    for rim in (True, False):
        for first, second, colour in BONES:
            sure = min(visibility[first], visibility[second]) >= SURE_VISIBILITY
            width = width_px if sure else max(1, width_px // 2)
            draw_line(
                picture, points_px[first], points_px[second],
                colour=BLACK if rim else colour, width_px=width + 2 * rim,
            )  # fmt: skip
    for joint in JOINTS:
        if np.isfinite(points_px[joint]).all():
            radius = round((width_px * 0.5 + 1) * (1 << FINE_BITS))
            cv2.circle(picture, _fine(points_px[joint]), radius, BLACK, -1, cv2.LINE_AA, FINE_BITS)


def _pen_px(points_px: Floats) -> int:
    """Thin for a small body, so that it stays visible behind its lines."""
    seen = points_px[np.isfinite(points_px).all(axis=1)]
    tall_px = float(np.ptp(seen[:, 1])) if seen.size else 0.0
    return int(np.clip(round(tall_px / 110), 1, 5))


def draw_foot(
    picture: Bytes, points_px: Floats, *, foot: Foot, state: FootState | None, size_px: float
) -> None:
    """Mark a foot: a bar under it on the ground, an arrowhead below it in the air.

    Parameters
    ----------
    picture : ndarray of shape (H, W, 3), uint8
        Drawn upon.
    points_px : ndarray of shape (33, 2)
        The body's points.
    foot : {"left", "right"}
    state : {"ground", "air"} or None
        None leaves the foot without a mark: not known.
    size_px : float
        Height of the mark.
    """
    marks = FOOT_LANDMARKS[foot]
    heel, toe = points_px[marks.heel], points_px[marks.toe]
    if state is None or not np.isfinite([heel, toe]).all():
        return
    # The two feet's marks stand on two rows: from the side the feet hide each other.
    row = size_px * (0.75 if foot == "left" else 2.0)
    middle = np.array([(heel[0] + toe[0]) / 2, max(heel[1], toe[1]) + row + size_px / 2])
    long_px = max(abs(heel[0] - toe[0]), 2.2 * size_px)
    draw_state(picture, middle, state=state, foot=foot, size=(long_px, size_px))
    letter_at = middle[0] + long_px / 2 + 0.4 * size_px, middle[1] + size_px / 2
    draw_text(picture, foot[0].upper(), letter_at, capital_px=size_px, colour=FOOT_COLOURS[foot])


def draw_state(
    picture: Bytes, middle_px: Floats, *, state: FootState, foot: Foot, size: tuple[float, float]
) -> None:
    """Draw the sign of a state: a filled bar for the ground, an open arrowhead for the air."""
    (x, y), (long_px, high_px) = middle_px, (size[0] / 2, size[1] / 2)
    rim, stroke = max(2, round(high_px * 0.5)), max(1, round(high_px * 0.3))
    if state == "ground":
        corners = [(x - long_px, y - high_px * 0.7), (x + long_px, y - high_px * 0.7),
                   (x + long_px, y + high_px * 0.7), (x - long_px, y + high_px * 0.7)]  # fmt: skip
    else:
        corners = [(x, y - high_px), (x + 1.2 * high_px, y + high_px), (x - 1.2 * high_px, y + high_px)]
    outline = np.array([_fine(np.array(corner)) for corner in corners], dtype=np.int32)
    colour = FOOT_COLOURS[foot]
    cv2.polylines(picture, [outline], True, BLACK, stroke + rim, cv2.LINE_AA, FINE_BITS)
    if state == "ground":
        cv2.fillPoly(picture, [outline], colour, cv2.LINE_AA, FINE_BITS)
    cv2.polylines(picture, [outline], True, colour, stroke, cv2.LINE_AA, FINE_BITS)


def draw_level(picture: Bytes, at_px: Floats, *, size_px: float, text: str) -> None:
    """Mark the height of a point with a diamond, a line to both sides and a word."""
    if not np.isfinite(at_px).all():
        return
    x, y = float(at_px[0]), float(at_px[1])
    for rim, colour in ((4, BLACK), (0, MIDDLE)):
        for side in (-1, 1):
            ends = np.array([[x + side * size_px, y], [x + side * 5 * size_px, y]])
            draw_line(picture, ends[0], ends[1], colour=colour,
                      width_px=max(2, round(size_px / 6)) + rim)  # fmt: skip
    draw_event_sign(picture, at_px, kind="deepest", size_px=size_px, rim=BLACK)
    place = x + 1.4 * size_px, y - 0.6 * size_px
    draw_text(picture, text, place, capital_px=size_px)


_SIGNS = {
    "take_off": np.array([[0, -1], [1, 0.8], [-1, 0.8]]),
    "landing": np.array([[0, 1], [1, -0.8], [-1, -0.8]]),
    "deepest": np.array([[0, -1], [0.8, 0], [0, 1], [-0.8, 0]]),
}
SIGN_COLOURS: Mapping[str, Colour] = {
    "take_off": (0, 158, 115), "landing": (213, 94, 0), "deepest": (204, 121, 167),
}  # fmt: skip


def draw_event_sign(
    picture: Bytes, at_px: Floats, *, kind: str, size_px: float, rim: Colour = BLACK
) -> None:
    """Draw an event's sign: up for a take-off, down for a landing, a diamond for the deepest."""
    outline = np.array([_fine(at_px + corner * size_px / 2) for corner in _SIGNS[kind]], np.int32)
    cv2.fillPoly(picture, [outline], SIGN_COLOURS[kind], cv2.LINE_AA, FINE_BITS)
    cv2.polylines(picture, [outline], True, rim, max(1, round(size_px / 12)), cv2.LINE_AA,
                  FINE_BITS)  # fmt: skip
