"""Two repetitions side by side, stepping together from take-off or from the start."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.repetitions import QUANTITIES, Repetition, find_best, main_quantity
from app.report.units import Units
from app.review_events import list_events
from app.web import say
from app.web.asking import athlete_repetitions, pick_athlete
from app.web.components import step_pair
from app.web.session import at_desk, not_yours, number_asked, units_of, viewer_now


def show() -> None:
    """Choose two repetitions of one athlete and step them together."""
    viewer, at = viewer_now(), at_desk()
    st.title("Side by side")
    faces = at.desk.people.list_athletes(viewer)
    if not viewer.is_coach or not faces:
        not_yours()
    asked = pick_athlete(faces, number_asked("athlete"))
    place = faces.index(asked) if asked else 0
    face = st.selectbox("Athlete", faces, index=place, format_func=lambda each: each.name)
    found = [
        each
        for each in athlete_repetitions(at, viewer, face.athlete_id)
        if each.number and at.files.has_clip(each.clip.clip_sha256)
    ]
    if len(found) < 2:
        st.info("It takes two filmed repetitions whose films are kept here.")
        return
    _compare(found, units_of(viewer))


def _compare(found: list[Repetition], units: Units) -> None:
    newest = found[-1]
    alike = [each for each in found if each.kind.exercise == newest.kind.exercise]
    best = find_best(alike, main_quantity(alike)) or alike[0]
    other = best if best is not newest else found[0]
    first, second = st.columns(2)
    places = (found.index(newest), found.index(other))
    with first:
        one = _choose("Left film", found, places[0], units)
    with second:
        two = _choose("Right film", found, places[1], units)
    moment = st.radio("Common moment", ["take-off", "landing"], horizontal=True)
    films = [_film(each, moment, units) for each in (one, two)]
    rates = [float(each.clip.report["time_base"]["capture_rate_hz"]) for each in (one, two)]
    step_pair(films=films, step_s=1 / max(rates), moment=moment, key="pair")


def _choose(label: str, found: list[Repetition], place: int, units: Units) -> Repetition:
    return st.selectbox(
        label, found, index=place, format_func=lambda each: _name(each, units), key=label
    )


def _name(each: Repetition, units: Units) -> str:
    key = main_quantity([each])
    value = units.quantity(QUANTITIES[key].unit, each.value(key))
    return f"{say.day(each.on_date)}, {each.kind.name}, jump {each.number}: {value}"


def _film(each: Repetition, moment: str, units: Units) -> dict[str, Any]:
    report = each.clip.report
    slow = float(report["time_base"]["file_s_per_s"])
    kind = "take_off" if moment == "take-off" else "landing"
    events = [e for e in list_events(report) if e.kind == kind and e.number == each.number]
    frame_s = slow / float(report["time_base"]["capture_rate_hz"])
    return {
        "src": f"/files/{each.clip.clip_sha256}/clip", "zero": events[0].time_s * slow,
        "slow": slow, "half": frame_s / 2, "caption": _name(each, units),
    }  # fmt: skip
