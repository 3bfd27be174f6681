"""The parts of a page that Streamlit has not: films by the frame, uploads, marks, charts.

Everything is in the package; nothing is fetched from outside.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import streamlit as st

PARTS = Path(__file__).parent / "parts"
SLICE_BYTES = 8 << 20


def _part(name: str) -> Any:
    own = PARTS / f"{name}.css"
    css = (PARTS / "common.css").read_text("utf-8")
    css += own.read_text("utf-8") if own.exists() else ""
    return st.components.v2.component(
        f"flightmark_{name}",
        html=(PARTS / f"{name}.html").read_text("utf-8"),
        css=css,
        js=(PARTS / f"{name}.js").read_text("utf-8"),
    )


_stepper, _pair, _uploader, _marker, _figure, _table = map(
    _part, ("stepper", "pair", "uploader", "marker", "figure", "table")
)


def _nothing() -> None:
    """Streamlit wants to be told what follows a change; a rerun is enough."""


def step_film(
    *, src: str, times: Sequence[float], slow: float, events: Sequence[Mapping[str, Any]],
    start: int = 0, can_choose: bool = False, key: str,
) -> dict[str, Any] | None:  # fmt: skip
    """Show a film by the frame; give the frame that was taken, where one was."""
    data = {
        "src": src, "times": list(times), "slow": slow, "events": list(events), "start": start,
        "can_choose": can_choose,
    }  # fmt: skip
    result = _stepper(key=key, data=data, on_chosen_change=_nothing)
    chosen: dict[str, Any] | None = result.chosen
    return chosen if chosen and chosen["clip"] == src else None


def step_pair(*, films: Sequence[Mapping[str, Any]], step_s: float, moment: str, key: str) -> None:
    """Show two films that step together from a common moment."""
    before, after = round(1.5 / step_s), round(2.0 / step_s)
    data = {"films": list(films), "step_s": step_s, "moment": moment, "before": before,
            "after": after}  # fmt: skip
    _pair(key=key, data=data)


def upload_clips(
    *, athlete_id: int, exercise: str | None, place_id: int | None, start_foot: str | None,
    key: str,
) -> list[int]:  # fmt: skip
    """Offer to send clips; give the jobs of those that have just come."""
    data = {"athlete": athlete_id, "exercise": exercise, "place": place_id,
            "start_foot": start_foot, "slice": SLICE_BYTES}  # fmt: skip
    result = _uploader(key=key, data=data, on_done_change=_nothing)
    return list(result.done["jobs"]) if result.done else []


def mark_picture(
    *, src: str, time: float, marks: Sequence[Mapping[str, Any]], key: str
) -> dict[str, Any] | None:
    """Show one picture of a film to mark; give the newest mark."""
    data = {"src": src, "time": time, "marks": list(marks)}
    mark: dict[str, Any] | None = _marker(key=key, data=data, on_mark_change=_nothing).mark
    return mark


@dataclass(frozen=True)
class Order:
    """By what the rows of a table are ordered."""

    by: str
    is_turned: bool = False
    """Whether the last come first."""


def order_asked(key: str, *, first: str) -> Order:
    """Give the order that was asked for by a table's heads, before the table is shown."""
    asked = (st.session_state.get(key) or {}).get("order")
    return Order(asked["by"], bool(asked["turned"])) if asked else Order(first)


def show_sortable(
    names: Sequence[str], rows: Sequence[Sequence[str]], *, orders: Sequence[str], order: Order,
    falls: bool, caption: str, key: str,
) -> None:  # fmt: skip
    """Show a table whose heads are buttons that order it.

    Parameters
    ----------
    names : sequence of str
    rows : sequence of sequence of str
        In their order.
    orders : sequence of str
        What the first columns are ordered by; the columns after them are not.
    order : Order
        The one that the rows stand in.
    falls : bool
        Whether values fall from the first row to the last, for screen readers.
    caption, key : str
    """
    data = {
        "names": list(names), "rows": [list(row) for row in rows], "orders": list(orders),
        "numbers": list(range(1, len(orders))), "column": list(orders).index(order.by),
        "turned": order.is_turned, "falls": falls, "caption": caption,
    }  # fmt: skip
    _table(key=key, data=data, on_order_change=_nothing)


def show_svg(svg: str, *, key: str) -> None:
    """Show a drawing; its text was made safe where it was drawn."""
    if svg:
        _figure(key=key, data={"svg": svg})
