"""Charts as SVG text: the same for a page and for paper. Shape tells apart, colour only helps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from html import escape

from app.following import Day, Following
from app.repetitions import QUANTITIES
from app.report.units import Units
from calibration.values import Refused

LEAST_SPAN = {"length": 0.06, "time": 0.1, "speed": 0.2}
"""An axis spans at least this much (SI), so that a small difference does not look large."""
ONE_SEASON = timedelta(days=300)
"""Over longer times a day and a month could be of two years."""


@dataclass(frozen=True)
class Frame:
    """Where a chart's lines lie, in its own units."""

    width: float = 440.0
    height: float = 270.0
    left: float = 40.0
    right: float = 22.0
    top: float = 16.0
    bottom: float = 34.0


Place = Callable[[float], float]


def draw_trend(following: Following, *, units: Units, name: str, ink: str = "currentColor") -> str:
    """Draw a quantity over days with the band of the athlete's own variation.

    Parameters
    ----------
    following : Following
    units : Units
    name : str
        What it shows, for readers who do not see it.
    ink : str
        Colour of lines and letters.

    Returns
    -------
    str
        SVG; empty where there is nothing to draw.
    """
    if not following.days:
        return ""
    frame, quantity = Frame(), QUANTITIES[following.quantity]
    per_unit, unit_name = units.axis(quantity.unit)
    low, high = _span(following, LEAST_SPAN[quantity.unit])
    across = _across([day.on_date for day in following.days], frame)
    up = _up(low, high, frame)
    parts = [
        *_grid(low, high, per_unit=per_unit, up=up, frame=frame),
        *_dates([day.on_date for day in following.days], across, frame),
        *_band(following, across, up),
        *(_dot(across(day.on_date.toordinal()), day, up) for day in following.days),
        _text(6, 11, unit_name, "start"),
    ]
    return _svg(parts, frame, name=_told(following, units, name), ink=ink)


def draw_small(following: Following, *, name: str, ink: str = "currentColor") -> str:
    """Draw a quantity over days as small as a word, in the band of the athlete's own variation."""
    days = following.days
    if len(days) < 2:
        return ""
    frame = Frame(160.0, 36.0, 4.0, 4.0, 4.0, 4.0)
    low, high = _span(following, LEAST_SPAN[QUANTITIES[following.quantity].unit] / 2)
    across = _across([day.on_date for day in days], frame)
    up = _up(low, high, frame)
    points = [(across(day.on_date.toordinal()), up(day.value)) for day in days]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    last = points[-1]
    parts = [
        *_band(following, across, up),
        f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="1.6"/>',
        f'<circle cx="{last[0]:.1f}" cy="{last[1]:.1f}" r="3" fill="{ink}"/>',
    ]
    return _svg(parts, frame, name=name, ink=ink, is_small=True)


def draw_sides(
    days: Sequence[tuple[date, float, str | None]], *, name: str, ink: str = "currentColor"
) -> str:
    """Draw how far left is ahead of right, percent, per day: bars up for left, down for right."""
    if not days:
        return ""
    frame = Frame(height=200.0)
    most = max(10.0, *(abs(value) for _, value, _ in days)) * 1.15
    up = _up(-most, most, frame)
    across = _across([day for day, _, _ in days], frame)
    zero = up(0.0)
    parts = [
        _line(frame.left, zero, frame.width - frame.right, zero, 1.2, 0.8),
        _text(frame.left, frame.top + 4, "left ahead, %", "start"),
        _text(frame.left, frame.height - frame.bottom - 4, "right ahead, %", "start"),
        *_dates([day for day, _, _ in days], across, frame),
    ]
    for day, value, weaker in days:
        x, y = across(day.toordinal()), up(value)
        fill = "none" if weaker == "left" else ink
        parts.append(
            f'<rect x="{x - 6:.1f}" y="{min(y, zero):.1f}" width="12" '
            f'height="{abs(y - zero):.1f}" fill="{fill}" stroke="{ink}" stroke-width="1.5"/>'
        )
    return _svg(parts, frame, name=name, ink=ink)


def _span(following: Following, least: float) -> tuple[float, float]:
    lows = [day.value - day.sigma for day in following.days]
    highs = [day.value + day.sigma for day in following.days]
    if not isinstance(following.variation, Refused):
        error = following.variation.typical_error.value
        for day in (following.days[0].on_date, following.days[-1].on_date):
            level = following.line(day)
            if level is not None:
                lows.append(level - error)
                highs.append(level + error)
    low, high = min(lows), max(highs)
    margin = max((least - (high - low)) / 2, 0.06 * (high - low))
    return low - margin, high + margin


def _across(days: Sequence[date], frame: Frame) -> Place:
    first, last = min(days).toordinal(), max(days).toordinal()
    room = frame.width - frame.left - frame.right - 24
    if last == first:
        return lambda _day: frame.left + 12 + room / 2
    return lambda day: frame.left + 12 + room * (day - first) / (last - first)


def _up(low: float, high: float, frame: Frame) -> Place:
    room = frame.height - frame.top - frame.bottom
    return lambda value: frame.top + room * (high - value) / (high - low)


def _grid(low: float, high: float, *, per_unit: float, up: Place, frame: Frame) -> list[str]:
    step = _step((high - low) * per_unit)
    parts, tick = [], -(-low * per_unit // step) * step
    decimals = 0 if step >= 1 else 1 if step >= 0.1 else 2
    while tick <= high * per_unit:
        y = up(tick / per_unit)
        parts.append(_line(frame.left, y, frame.width - frame.right, y, 1, 0.18))
        parts.append(_text(frame.left - 8, y + 4.5, f"{tick:.{decimals}f}", "end"))
        tick += step
    return parts


def _step(span: float) -> float:
    for step in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0):
        if span / step <= 6:
            return step
    return 100.0


def _dates(days: Sequence[date], across: Place, frame: Frame) -> list[str]:
    parts, right_edge = [], -1e9
    is_one_season = max(days) - min(days) < ONE_SEASON
    for day in sorted(set(days)):
        x = across(day.toordinal())
        if x - right_edge > 74:
            said = f"{day.day} {day:%b}" if is_one_season else f"{day:%b %Y}"
            parts.append(_text(x, frame.height - 10, said, "middle"))
            right_edge = x
    return parts


def _band(following: Following, across: Place, up: Place) -> list[str]:
    if isinstance(following.trend, Refused) or isinstance(following.variation, Refused):
        return []
    error = following.variation.typical_error.value
    ends = [following.days[0].on_date, following.days[-1].on_date]
    levels = [following.line(day) or 0.0 for day in ends]
    xs = [across(day.toordinal()) for day in ends]
    corners = [
        (xs[0], up(levels[0] + error)), (xs[1], up(levels[1] + error)),
        (xs[1], up(levels[1] - error)), (xs[0], up(levels[0] - error)),
    ]  # fmt: skip
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    return [
        f'<polygon points="{points}" fill="currentColor" opacity="0.13"/>',
        _line(xs[0], up(levels[0]), xs[1], up(levels[1]), 1.6, 0.7, dash="6 5"),
    ]


def _dot(x: float, day: Day, up: Place) -> str:
    y, high, low = up(day.value), up(day.value + day.sigma), up(day.value - day.sigma)
    return (
        f'{_line(x, high, x, low, 1.8, 0.85)}{_line(x - 4, high, x + 4, high, 1.8, 0.85)}'
        f'{_line(x - 4, low, x + 4, low, 1.8, 0.85)}'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="currentColor"/>'
    )


def _line(
    x1: float, y1: float, x2: float, y2: float, width: float, opacity: float, dash: str = ""
) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="currentColor" '
        f'stroke-width="{width:g}" opacity="{opacity:g}"{dashed}/>'
    )


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="14" '
        f'fill="currentColor">{escape(text)}</text>'
    )


def _told(following: Following, units: Units, name: str) -> str:
    quantity = QUANTITIES[following.quantity]
    first, last = following.days[0], following.days[-1]
    return (
        f"{name}: {len(following.days)} days, from "
        f"{units.quantity(quantity.unit, first.value, first.sigma)} on {first.on_date} to "
        f"{units.quantity(quantity.unit, last.value, last.sigma)} on {last.on_date}"
    )


def _svg(
    parts: Sequence[str], frame: Frame, *, name: str, ink: str, is_small: bool = False
) -> str:
    size = f'width="{frame.width:g}" height="{frame.height:g}"'
    style = "" if is_small else ' style="width:100%;max-width:580px;height:auto"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {frame.width:g} {frame.height:g}" '
        f'{size}{style} role="img" aria-label="{escape(name)}" color="{ink}" '
        f'font-family="sans-serif">{"".join(parts)}</svg>'
    )
