"""A plot of the hips' height and of both feet's contacts over time, large or as a strip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.io.draw import (
    FINE_BITS,
    SIGN_COLOURS,
    draw_event_sign,
    draw_line,
)
from measure.io.lettering import Colour, draw_text, text_width_px
from measure.io.moments import Event, HipCurve, Span
from measure.types import Floats, Foot

Bytes = NDArray[np.uint8]

TICK_STEPS = (1.0, 2.0, 5.0)
SHORTEST_RANGE_S = 0.01
EMPTY_RANGE = (-1.0, 1.0)
BARS_SAID = "L, R: the foot is on the ground (bar) or in the air (line)"
EVENT_NAMES = {"take_off": "take-off", "landing": "landing", "deepest": "deepest"}


@dataclass(frozen=True, slots=True)
class Story:
    """What a clip's plot shows."""

    hip: HipCurve
    spans: Mapping[Foot, tuple[Span, ...]]
    events: tuple[Event, ...]
    ends_s: tuple[float, float]
    """First and last moment of the clip."""
    marks_s: tuple[float, ...] = ()
    """Moments at which the marks of a sprint are passed."""
    time_name: str = "Time, s"


@dataclass(frozen=True, slots=True)
class Paper:
    """Colours of a plot."""

    ground: Colour
    ink: Colour
    faint: Colour
    feet: Mapping[Foot, Colour]


LIGHT = Paper((255, 255, 255), (20, 20, 20), (215, 215, 215),
              {"left": (200, 105, 0), "right": (0, 105, 180)})  # fmt: skip
DARK = Paper((0, 0, 0), (255, 255, 255), (80, 80, 80),
             {"left": (255, 166, 38), "right": (92, 190, 255)})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Axes:
    """A rectangle of a picture and the ranges that it shows."""

    left: float
    top: float
    right: float
    bottom: float
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def at(self, x: Floats, y: Floats) -> Floats:
        """Pixels of points, shape (..., 2)."""
        across = (np.asarray(x) - self.x_range[0]) / (self.x_range[1] - self.x_range[0])
        up = (np.asarray(y) - self.y_range[0]) / (self.y_range[1] - self.y_range[0])
        placed: Floats = np.stack(
            np.broadcast_arrays(
                self.left + across * (self.right - self.left),
                self.bottom - up * (self.bottom - self.top),
            ),
            axis=-1,
        )
        return placed


def plot_hip_height(story: Story, *, width_px: int = 1280, height_px: int = 720) -> Bytes:
    """Draw the plot that stands on its own.

    Parameters
    ----------
    story : Story
    width_px, height_px : int

    Returns
    -------
    ndarray of shape (height_px, width_px, 3), uint8
        RGB.
    """
    picture = np.full((height_px, width_px, 3), LIGHT.ground, np.uint8)
    size = height_px / 36
    bars_px = 5.0 * size
    axes = Axes(
        5.2 * size, 4.6 * size, width_px - 1.5 * size, height_px - 4.6 * size - bars_px,
        _time_range(story), _height_range(story.hip.height),
    )  # fmt: skip
    _draw_grid(picture, axes, size=size, bars_px=bars_px)
    unit = story.hip.unit
    title = f"Height of the hips over where they were at the start, {unit}"
    draw_text(picture, title, (1.2 * size, 1.8 * size), capital_px=size, colour=LIGHT.ink,
              outlined=False)  # fmt: skip
    _draw_legend(picture, story, (1.2 * size, 3.5 * size), size=size)
    _draw_contents(picture, axes, story, paper=LIGHT, size=size)
    _draw_bars(picture, axes, story, paper=LIGHT, top=axes.bottom + 0.6 * size,
               high=bars_px - 1.2 * size)  # fmt: skip
    _draw_time_axis(picture, axes, story.time_name, below=axes.bottom + bars_px, size=size)
    return picture


def draw_strip(story: Story, *, width_px: int, height_px: int) -> tuple[Bytes, Axes]:
    """Draw the thin strip below a film: the curve, a bar for each foot, the events.

    Parameters
    ----------
    story : Story
    width_px, height_px : int

    Returns
    -------
    ndarray of shape (height_px, width_px, 3), uint8
        RGB.
    Axes
        Where its moments stand, for the cursor.
    """
    picture = np.full((height_px, width_px, 3), DARK.ground, np.uint8)
    size = height_px / 7
    axes = Axes(
        1.4 * size, 1.0 * size, width_px - 0.7 * size, 0.56 * height_px,
        _time_range(story), _height_range(story.hip.height),
    )  # fmt: skip
    zero = axes.at(np.array(axes.x_range), np.array([0.0, 0.0]))
    draw_line(picture, zero[0], zero[1], colour=DARK.faint)
    _draw_contents(picture, axes, story, paper=DARK, size=size)
    _draw_bars(picture, axes, story, paper=DARK, top=0.62 * height_px, high=0.36 * height_px)
    return picture, axes


def draw_cursor(picture: Bytes, axes: Axes, *, at_s: float) -> None:
    """Draw the present moment into a strip."""
    x = float(axes.at(np.array(at_s), np.array(0.0))[0])
    low = float(picture.shape[0])
    thin = max(1, round(low / 70))
    for colour, width in (((0, 0, 0), 2 * thin), ((255, 230, 0), thin)):
        draw_line(picture, np.array([x, 0.0]), np.array([x, low]), colour=colour, width_px=width)


def pick_ticks(low: float, high: float, *, most: int) -> Floats:
    """Round numbers within a range, at most as many as asked for.

    Parameters
    ----------
    low, high : float
    most : int
        At least 2.

    Returns
    -------
    ndarray of shape (K,)
        Multiples of 1, 2 or 5 times a power of ten.
    """
    rough = (high - low) / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next((s * power for s in TICK_STEPS if s * power >= rough), 10 * power)
    numbers = np.arange(np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9) + 1)
    return np.asarray(numbers * step + 0.0, dtype=np.float64)  # + 0.0 makes no -0 of 0


def _time_range(story: Story) -> tuple[float, float]:
    first_s, last_s = story.ends_s
    return first_s, max(last_s, first_s + SHORTEST_RANGE_S)


def _height_range(height: Floats) -> tuple[float, float]:
    seen = height[np.isfinite(height)]
    if seen.size == 0 or np.ptp(seen) == 0:
        return EMPTY_RANGE
    margin = 0.08 * float(np.ptp(seen))
    return float(seen.min()) - margin, float(seen.max()) + margin


def _draw_grid(picture: Bytes, axes: Axes, *, size: float, bars_px: float) -> None:
    for value in pick_ticks(*axes.y_range, most=7):
        start, end = axes.at(np.array(axes.x_range), np.array([value, value]))
        draw_line(picture, start, end, colour=LIGHT.faint, width_px=2 if value == 0 else 1)
        label = f"{value:g}"
        x = axes.left - 0.6 * size - text_width_px(label, capital_px=0.85 * size)
        draw_text(picture, label, (x, start[1] + 0.4 * size), capital_px=0.85 * size,
                  colour=LIGHT.ink, outlined=False)  # fmt: skip
    for value in pick_ticks(*axes.x_range, most=10):
        x = float(axes.at(np.array(value), np.array(0.0))[0])
        ends = np.array([[x, axes.top], [x, axes.bottom + bars_px]])
        draw_line(picture, ends[0], ends[1], colour=LIGHT.faint)


def _draw_time_axis(picture: Bytes, axes: Axes, name: str, *, below: float, size: float) -> None:
    for value in pick_ticks(*axes.x_range, most=10):
        label = f"{value:.3g}"
        x = float(axes.at(np.array(value), np.array(0.0))[0])
        x -= text_width_px(label, capital_px=0.85 * size) / 2
        draw_text(picture, label, (x, below + 1.5 * size), capital_px=0.85 * size,
                  colour=LIGHT.ink, outlined=False)  # fmt: skip
    x = axes.right - text_width_px(name, capital_px=size)
    draw_text(picture, name, (x, below + 3.4 * size), capital_px=size, colour=LIGHT.ink,
              outlined=False)  # fmt: skip


def _draw_legend(picture: Bytes, story: Story, at: tuple[float, float], *, size: float) -> None:
    x, y = at
    for kind in dict.fromkeys(event.kind for event in story.events):
        sign_at = np.array([x + 0.5 * size, y - 0.45 * size])
        draw_event_sign(picture, sign_at, kind=kind, size_px=1.2 * size, rim=LIGHT.ink)
        name = EVENT_NAMES[kind]
        draw_text(picture, name, (x + 1.5 * size, y), capital_px=0.85 * size, colour=LIGHT.ink,
                  outlined=False)  # fmt: skip
        x += 3.2 * size + text_width_px(name, capital_px=0.85 * size)
    if any(story.spans.values()):
        draw_text(picture, BARS_SAID, (x, y), capital_px=0.85 * size, colour=LIGHT.ink,
                  outlined=False)  # fmt: skip


def _draw_contents(picture: Bytes, axes: Axes, story: Story, *, paper: Paper, size: float) -> None:
    """Draw the curve and, on it, the events."""
    hip = story.hip
    for event in story.events:
        colour = SIGN_COLOURS[event.kind]
        _draw_upright(picture, axes, event.time_s, colour=colour)
    for time_s in story.marks_s:
        _draw_upright(picture, axes, time_s, colour=paper.ink)
    _draw_curve(picture, axes.at(hip.time_s, hip.height), colour=paper.ink,
                width_px=max(2, round(size / 8)))  # fmt: skip
    seen = np.isfinite(hip.height)
    for event in story.events:
        level = np.interp(event.time_s, hip.time_s[seen], hip.height[seen]) if seen.any() else 0.0
        place = axes.at(np.array(event.time_s), np.array(level))
        draw_event_sign(picture, place, kind=event.kind, size_px=1.2 * size, rim=paper.ink)


def _draw_upright(picture: Bytes, axes: Axes, at_s: float, *, colour: Colour) -> None:
    x = float(axes.at(np.array(at_s), np.array(0.0))[0])
    ends = np.array([[x, axes.top], [x, axes.bottom]])
    draw_line(picture, ends[0], ends[1], colour=colour, width_px=1)


def _draw_curve(picture: Bytes, points_px: Floats, *, colour: Colour, width_px: int) -> None:
    """Draw a line through points, broken where one is NaN."""
    seen = np.isfinite(points_px).all(axis=1)
    breaks = np.flatnonzero(np.diff(seen.astype(int))) + 1
    for piece, is_seen in zip(np.split(points_px, breaks), np.split(seen, breaks), strict=True):
        if is_seen.size and is_seen[0]:
            fine = np.rint((piece - 0.5) * (1 << FINE_BITS)).astype(np.int32)
            cv2.polylines(picture, [fine], False, colour, width_px, cv2.LINE_AA, FINE_BITS)


def _draw_bars(
    picture: Bytes, axes: Axes, story: Story, *, paper: Paper, top: float, high: float
) -> None:
    """Draw the ground contacts of each foot as a bar; a thin line is the air, nothing unknown."""
    if not any(story.spans.values()):
        return
    row_px = high / 2
    for number, (foot, spans) in enumerate(story.spans.items()):
        middle = top + (number + 0.5) * row_px
        colour = paper.feet[foot]
        label_px = 0.62 * row_px
        draw_text(picture, foot[0].upper(), (axes.left - 1.5 * label_px, middle + label_px / 2),
                  capital_px=label_px, colour=colour, outlined=False)  # fmt: skip
        for span in spans:
            ends_s = np.clip([span.start_s, span.end_s], *axes.x_range)
            x0, x1 = axes.at(ends_s, np.zeros(2))[:, 0]
            half_px = row_px * (0.36 if span.state == "ground" else 0.04)
            corners = np.array([[x0, middle - half_px], [x1, middle - half_px],
                                [x1, middle + half_px], [x0, middle + half_px]])  # fmt: skip
            fine = np.rint((corners - 0.5) * (1 << FINE_BITS)).astype(np.int32)
            cv2.fillPoly(picture, [fine], colour, cv2.LINE_AA, FINE_BITS)
