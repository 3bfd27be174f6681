"""Distance and speed of a run over time, on one plot."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from measure.io.draw import FINE_BITS, draw_line
from measure.io.lettering import Colour, draw_text, text_width_px
from measure.io.plot import LIGHT, Axes, pick_ticks
from measure.report import SprintReport
from measure.sprint.local import fit_locally
from measure.sprint.path import HipPath
from measure.types import Floats

__all__ = ["plot_run", "read_speed"]

Bytes = NDArray[np.uint8]

FITTED: Colour = (200, 70, 0)
MARK: Colour = (0, 105, 180)
HALF_WIDTH_S = 0.3
EVERY_S = 0.02
REST_SHOWN_S = 0.1
MARGIN_SHARE = 0.06


def plot_run(
    path: HipPath, report: SprintReport, *, width_px: int = 1280, height_px: int = 960
) -> Bytes:
    """Draw both plots, one above the other.

    Parameters
    ----------
    path : HipPath
    report : SprintReport
    width_px, height_px : int

    Returns
    -------
    ndarray of shape (height_px, width_px, 3), uint8
        RGB. Time counts from the start, where there is one.
    """
    picture = np.full((height_px, width_px, 3), LIGHT.ground, np.uint8)
    size = height_px / 60
    zero_s = report.start_s or 0.0
    time_s, speed_mps = read_speed(path)
    if report.start_s is not None:
        # A body at rest has no speed worth a line.
        shown = time_s >= report.start_s - REST_SHOWN_S
        time_s, speed_mps = time_s[shown], speed_mps[shown]
    ends_s = _ranged(np.concatenate([path.time_s - zero_s, [0.0]]))
    middle = height_px / 2
    upper = Axes(5 * size, 4 * size, width_px - 2 * size, middle - 2 * size, ends_s,
                 _ranged(path.distance_m))  # fmt: skip
    lower = Axes(5 * size, middle + 4 * size, width_px - 2 * size, height_px - 5 * size, ends_s,
                 _ranged(np.concatenate([speed_mps, [0.0]])))  # fmt: skip
    since = "the start" if report.start_s is not None else "the first picture"
    _frame(picture, upper, "Distance of the hips along the lane, m", size)
    _frame(picture, lower, "Speed along the lane, m/s", size)
    _marks(picture, upper, report, zero_s, size)
    _curve(picture, upper.at(path.time_s - zero_s, path.distance_m), LIGHT.ink)
    _curve(picture, lower.at(time_s - zero_s, speed_mps), LIGHT.ink)
    _fitted(picture, lower, report, size)
    name = f"Time since {since}, s"
    x = width_px - 2 * size - text_width_px(name, capital_px=size)
    draw_text(picture, name, (x, height_px - size), capital_px=size, colour=LIGHT.ink,
              outlined=False)  # fmt: skip
    return picture


def read_speed(path: HipPath) -> tuple[Floats, Floats]:
    """Speed of the hips over time, steps averaged out: times and metres per second, (K,) each."""
    moments_s = np.arange(path.time_s[0], path.time_s[-1], EVERY_S)
    fits = [
        (at_s, fit_locally(path.time_s, path.distance_m, at_s=at_s, half_width_s=HALF_WIDTH_S))
        for at_s in moments_s
    ]
    read = np.array([(at_s, fit.slope) for at_s, fit in fits if fit is not None]).reshape(-1, 2)
    return read[:, 0], read[:, 1]


def _ranged(values: Floats) -> tuple[float, float]:
    low, high = float(values.min()), float(values.max())
    margin = MARGIN_SHARE * max(high - low, 0.1)
    return low - margin, high + margin


def _frame(picture: Bytes, axes: Axes, title: str, size: float) -> None:
    for value in pick_ticks(*axes.y_range, most=6):
        ends = axes.at(np.array(axes.x_range), np.full(2, value))
        draw_line(picture, ends[0], ends[1], colour=LIGHT.faint)
        label = f"{value:g}"
        x = axes.left - 0.6 * size - text_width_px(label, capital_px=0.9 * size)
        _write(picture, label, (x, float(ends[0, 1]) + 0.4 * size), 0.9 * size)
    for value in pick_ticks(*axes.x_range, most=10):
        ends = axes.at(np.full(2, value), np.array(axes.y_range))
        draw_line(picture, ends[0], ends[1], colour=LIGHT.faint)
        label = f"{value:g}"
        x = float(ends[0, 0]) - text_width_px(label, capital_px=0.9 * size) / 2
        _write(picture, label, (x, axes.bottom + 1.5 * size), 0.9 * size)
    _write(picture, title, (axes.left, axes.top - size), 1.1 * size)


def _marks(picture: Bytes, axes: Axes, report: SprintReport, zero_s: float, size: float) -> None:
    for mark in report.marks:
        place = axes.at(np.array(mark.time_s - zero_s), np.array(mark.distance_m))
        foot = axes.at(np.array(mark.time_s - zero_s), np.array(axes.y_range[0]))
        edge = axes.at(np.array(axes.x_range[0]), np.array(mark.distance_m))
        draw_line(picture, place, foot, colour=MARK)
        draw_line(picture, place, edge, colour=MARK)
        label = f"{mark.distance_m:g} m  {mark.time_s - zero_s:.3f} s"
        x = float(place[0]) - text_width_px(label, capital_px=0.9 * size) - 0.8 * size
        _write(picture, label, (max(x, axes.left), float(place[1]) - 0.5 * size), 0.9 * size, MARK)


def _fitted(picture: Bytes, axes: Axes, report: SprintReport, size: float) -> None:
    """Draw the speed curve over the measured speed."""
    speed, constant, offset = report.curve_speed_mps, report.time_constant_s, report.curve_offset_s
    if speed is None or constant is None or offset is None:
        return
    time_s = np.linspace(max(offset, axes.x_range[0]), axes.x_range[1], 200)
    curve_mps = speed * -np.expm1(-(time_s - offset) / constant)
    _curve(picture, axes.at(time_s, curve_mps), FITTED)
    said = f"fitted: {speed:.2f} m/s (1 - e^(-t / {constant:.2f} s))"
    x = axes.right - text_width_px(said, capital_px=size)
    _write(picture, said, (x, axes.bottom - size), size, FITTED)


def _curve(picture: Bytes, points_px: Floats, colour: Colour) -> None:
    fine = np.rint((points_px - 0.5) * (1 << FINE_BITS)).astype(np.int32)
    cv2.polylines(picture, [fine], False, colour, 2, cv2.LINE_AA, FINE_BITS)


def _write(
    picture: Bytes, text: str, at_px: tuple[float, float], capital_px: float,
    colour: Colour = LIGHT.ink,
) -> None:  # fmt: skip
    draw_text(picture, text, at_px, capital_px=capital_px, colour=colour, outlined=False)
