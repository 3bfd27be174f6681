"""One picture of the annotated film: the frame, the body on it, words and a strip below."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measure.io.captions import say_feet
from measure.io.draw import FOOT_COLOURS, draw_angle, draw_feet, draw_level, draw_skeleton
from measure.io.lettering import draw_text, fit_capital_px, text_width_px
from measure.io.moments import HIPS, FootState, state_at
from measure.io.plot import Axes, Story, draw_cursor, draw_strip
from measure.report import JumpReport
from measure.types import FEET, FOOT_LANDMARKS, Floats, Foot, Landmark

Bytes = NDArray[np.uint8]

LONGEST_SIDE_PX = 1280
"""Of the film written, the lines below the picture included."""
CAPITAL_SHARE = 0.024
"""Height of the letters in widths of the film: some 9 points on a phone held upright."""
WORDS_CAPITALS, STRIP_CAPITALS = 6.0, 7.0
"""Height of the words and of the strip below the picture, in letters."""
DEEPEST_SHOWN_S = 0.1
"""The deepest moment is marked from this long before it until this long after."""


@dataclass(frozen=True, slots=True)
class Words:
    """What is written below a picture."""

    lines: tuple[str, ...]
    """Three at most."""
    feet_row: int = 0
    """The line that ends with the state of the feet."""


@dataclass(frozen=True, slots=True)
class Body:
    """The body at the moment of a picture, in the pixels of the upright frame."""

    points_px: Floats
    """Shape (33, 2), NaN where not seen."""
    visibility: Floats
    """Shape (33,)."""

    @classmethod
    def unseen(cls) -> Body:
        """Nobody."""
        return cls(np.full((len(Landmark), 2), np.nan), np.zeros(len(Landmark)))


@dataclass(frozen=True, slots=True)
class Sheet:
    """Where everything stands on a picture of the film; the same for all its frames."""

    width_px: int
    picture_px: int
    """Height of the film's part; the words and the strip follow below."""
    px_per_frame_px: float
    capital_px: float
    story: Story
    strip: Bytes
    """The strip without its cursor."""
    axes: Axes

    @property
    def words_px(self) -> int:
        """Height of the words: when, and two lines of what."""
        return round(WORDS_CAPITALS * self.capital_px)


def lay_sheet(story: Story, *, width_px: int, height_px: int) -> Sheet:
    """Find the place of everything.

    Parameters
    ----------
    story : Story
    width_px, height_px : int
        Of the upright frames; they are made smaller where the whole would be too large.

    Returns
    -------
    Sheet
    """
    below_px = (WORDS_CAPITALS + STRIP_CAPITALS) * CAPITAL_SHARE * width_px
    scale = min(1.0, LONGEST_SIDE_PX / max(width_px, height_px + below_px))
    width, height = (max(2, round(side * scale / 2) * 2) for side in (width_px, height_px))
    capital_px = CAPITAL_SHARE * width
    strip, axes = draw_strip(story, width_px=width, height_px=round(STRIP_CAPITALS * capital_px))
    return Sheet(width, height, width / width_px, capital_px, story, strip, axes)


def new_picture(sheet: Sheet) -> tuple[Bytes, Bytes]:
    """Give a black picture, and the part of it that takes the frame.

    Returns
    -------
    whole : ndarray of shape (H, W, 3), uint8
    frame_part : ndarray of shape (sheet.picture_px, W, 3), uint8
        A view of the whole.
    """
    height = sheet.picture_px + sheet.words_px + sheet.strip.shape[0]
    whole = np.zeros((height, sheet.width_px, 3), np.uint8)
    return whole, whole[: sheet.picture_px]


def draw_sheet(
    whole: Bytes, sheet: Sheet, body: Body, jumps: tuple[JumpReport, ...], *, words: Words,
    at_s: float,
) -> None:  # fmt: skip
    """Draw all that belongs to one moment on a picture that holds its frame.

    Parameters
    ----------
    whole : ndarray of shape (H, W, 3), uint8
        From `new_picture`, the frame already in its part.
    sheet : Sheet
    body : Body
    jumps : tuple of JumpReport
    words : Words
    at_s : float
        Real time.
    """
    frame_part, below = whole[: sheet.picture_px], whole[sheet.picture_px :]
    points_px = body.points_px * sheet.px_per_frame_px
    states = {foot: state_at(spans, at_s=at_s) for foot, spans in sheet.story.spans.items()}
    draw_skeleton(frame_part, points_px, body.visibility)
    _draw_knees(frame_part, jumps, points_px, at_s=at_s)
    draw_feet(frame_part, points_px, states, size_px=0.8 * sheet.capital_px)
    _draw_deepest(frame_part, sheet, points_px, at_s=at_s)
    _write_words(below, sheet, words, states)
    below[sheet.words_px :] = sheet.strip
    draw_cursor(below[sheet.words_px :], sheet.axes, at_s=at_s)


def _draw_knees(
    picture: Bytes, jumps: tuple[JumpReport, ...], points_px: Floats, *, at_s: float
) -> None:
    """Draw arcs at the knees while a landing is absorbed whose angles are reported."""
    for jump in jumps:
        landing = jump.landing
        if landing is None or landing.deepest_s is None:
            continue
        told = landing.knee_flexion_contact_deg or landing.frontal_knee_angle_deg or {}
        if jump.landing_s - DEEPEST_SHOWN_S <= at_s <= landing.deepest_s + DEEPEST_SHOWN_S:
            for foot in FEET:
                if foot in told:
                    leg = FOOT_LANDMARKS[foot]
                    limbs = points_px[[leg.hip, leg.knee, leg.ankle]]
                    draw_angle(picture, *limbs, colour=FOOT_COLOURS[foot])


def _draw_deepest(picture: Bytes, sheet: Sheet, points_px: Floats, *, at_s: float) -> None:
    for event in sheet.story.events:
        if event.kind == "deepest" and abs(event.time_s - at_s) <= DEEPEST_SHOWN_S:
            hips = points_px[HIPS].mean(axis=0)
            draw_level(picture, hips, size_px=sheet.capital_px, text="deepest")


def _write_words(
    below: Bytes, sheet: Sheet, words: Words, states: Mapping[Foot, FootState | None]
) -> None:
    """Write the lines, and to the right of one of them where both feet are."""
    margin = 0.8 * sheet.capital_px
    room_px = sheet.width_px - 2 * margin
    feet = say_feet(states) if any(sheet.story.spans.values()) else ""
    feet_px = text_width_px(feet, capital_px=sheet.capital_px)
    for number, line in enumerate(words.lines):
        room = room_px - (feet_px + margin if number == words.feet_row and feet else 0)
        capital_px = fit_capital_px(line, capital_px=sheet.capital_px, width_px=room)
        place = margin, (1.6 + 1.8 * number) * sheet.capital_px
        draw_text(below, line, place, capital_px=capital_px, outlined=False)
    place = sheet.width_px - margin - feet_px, (1.6 + 1.8 * words.feet_row) * sheet.capital_px
    draw_text(below, feet, place, capital_px=sheet.capital_px, outlined=False)
