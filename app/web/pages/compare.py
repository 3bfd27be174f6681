"""Two repetitions side by side, stepping together from take-off or from the start."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.repetitions import QUANTITIES, Repetition, main_quantity
from app.report.units import Units
from app.side_by_side import Pair, common_moments, list_films, list_moments, suggest
from app.web import say
from app.web.asking import athlete_repetitions, pick_athlete
from app.web.components import step_pair
from app.web.session import at_desk, not_yours, number_asked, units_of, viewer_now

OWN_CHOICE = "two of your choice"


def show() -> None:
    """Choose two repetitions of one athlete and step them together."""
    viewer, at = viewer_now(), at_desk()
    faces = at.desk.people.list_athletes(viewer)
    if not viewer.is_coach or not faces:
        not_yours()
    st.title("Side by side")
    asked = pick_athlete(faces, number_asked("athlete"))
    place = faces.index(asked) if asked else 0
    face = st.selectbox("Athlete", faces, index=place, format_func=lambda each: each.name)
    kept: dict[str, bool] = {}

    def has_film(each: Repetition) -> bool:
        sha256 = each.clip.clip_sha256
        if sha256 not in kept:
            kept[sha256] = at.files.has_clip(sha256)
        return kept[sha256]

    found = athlete_repetitions(at, viewer, face.athlete_id)
    films = [each for each in list_films(found) if has_film(each)]
    if len(films) < 2:
        st.info("It takes two filmed repetitions whose films are kept here.")
        return
    _compare(films, units_of(viewer), of=face.athlete_id)


def _compare(films: list[Repetition], units: Units, *, of: int) -> None:
    pairs = suggest(films)
    wanted = st.radio("Compare", [*pairs, OWN_CHOICE], horizontal=True, key=f"what{of}")
    pair = pairs.get(wanted) or _choose(films, units, of=of)
    moments = common_moments(pair, units)
    if not moments:
        st.info("These two have no moment in common: choose two jumps, or two runs.")
        return
    moment = st.radio("Common moment", moments, horizontal=True)
    both = (pair.one, pair.two)
    rates = [float(each.clip.report["time_base"]["capture_rate_hz"]) for each in both]
    films_said = [_film(each, moment, units) for each in both]
    step_pair(films=films_said, step_s=1 / max(rates), moment=moment, key="pair")


def _choose(films: list[Repetition], units: Units, *, of: int) -> Pair:
    newest_first = list(reversed(films))
    chosen = [
        column.selectbox(
            label, newest_first, index=place, format_func=lambda each: _name(each, units),
            key=f"{label}{of}",
        )
        for place, (column, label) in enumerate(
            zip(st.columns(2), ("Left film", "Right film"), strict=True)
        )
    ]  # fmt: skip
    return Pair(*chosen)


def _name(each: Repetition, units: Units) -> str:
    key = main_quantity([each])
    value = units.quantity(QUANTITIES[key].unit, each.value(key))
    which = f", jump {each.number}" if each.number > 1 else ""
    return f"{say.day(each.on_date)}, {each.kind.name(units)}{which}: {value}"


def _film(each: Repetition, moment: str, units: Units) -> dict[str, Any]:
    base = each.clip.report["time_base"]
    slow = float(base["file_s_per_s"])
    return {
        "src": f"/files/{each.clip.clip_sha256}/clip",
        "zero": list_moments(each, units)[moment] * slow, "slow": slow,
        "half": slow / float(base["capture_rate_hz"]) / 2, "caption": _name(each, units),
    }  # fmt: skip
