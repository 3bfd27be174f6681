"""Mark a lane or a known length on a picture, see at once how well it fits, keep it by name."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import streamlit as st

from app.errors import HistoryFailed
from app.history.reviews import ClipRecord
from app.marking import lane_setup, reference_setup, try_lane
from app.report.units import Units
from app.web import say
from app.web.components import mark_picture
from app.web.session import at_desk, not_yours, now, units_of, viewer_now

OFFERED_CLIPS = 40
OFFERED_SINCE = timedelta(days=60)


def show() -> None:
    """Show the kept places and make another."""
    viewer, at = viewer_now(), at_desk()
    if not viewer.is_coach:
        not_yours()
    st.title("Places")
    places = at.desk.reviews.list_places(viewer.team_ids)
    units = units_of(viewer)
    if places:
        rows = [[p.name, _what(p.setup, units), say.moment(p.saved_at)] for p in places]
        say.table(["place", "what is marked", "kept"], rows)
    faces = at.desk.people.list_athletes(viewer)
    since = now().date() - OFFERED_SINCE
    ids = [face.athlete_id for face in faces]
    clips = [
        clip
        for clip in reversed(at.desk.reviews.list_clips(ids, since=since))
        if at.files.has_clip(clip.clip_sha256)
    ][:OFFERED_CLIPS]
    if not clips:
        st.info("Send a clip of the place first: marks are set on one of its pictures.")
        return
    st.subheader("Mark a place")
    clip = st.selectbox("On a picture of", clips, format_func=_name)
    kind = st.radio("What", ["a lane with cones", "a known length"], horizontal=True)
    marks = _mark(clip, units, is_lane=kind == "a lane with cones")
    if kind == "a lane with cones":
        _lane(clip, marks, units)
    else:
        _length(marks, units)


def _what(setup: dict[str, Any], units: Units) -> str:
    if "marks" in setup:
        return f"lane, {len(setup['marks'])} marks"
    return f"a length of {units.distance(setup['reference']['length_m'])}"


def _name(clip: ClipRecord) -> str:
    return f"{clip.athlete}, {say.filmed(clip)}, {clip.file_name}"


def _mark(clip: ClipRecord, units: Units, *, is_lane: bool) -> list[dict[str, Any]]:
    """Take marks one after the other; each is set on the picture, then given its distance."""
    key = f"marks{clip.clip_id}{is_lane}"
    marks: list[dict[str, Any]] = st.session_state.setdefault(key, [])
    if is_lane:
        first, second = st.columns(2)
        distance = first.number_input(
            f"Distance of the next mark along the lane, {units.distance_name}",
            value=5.0 * len(marks), step=0.5,
        )  # fmt: skip
        row = second.radio("Row, seen from the phone", ["near", "far"], horizontal=True)
        distance_m = distance * units.m_per_distance
        label = units.distance(distance_m)
    else:
        distance_m, row, label = 0.0, "near", f"end {len(marks) + 1}"
    mark = mark_picture(
        src=f"/files/{clip.clip_sha256}/clip", time=0.0,
        marks=[{"px": each["px"], "label": each["label"]} for each in marks], key=f"sheet{key}",
    )  # fmt: skip
    if mark and mark["stamp"] != st.session_state.get(f"stamp{key}"):
        st.session_state[f"stamp{key}"] = mark["stamp"]
        marks.append({"px": mark["px"], "distance_m": float(distance_m), "row": row,
                      "label": label})  # fmt: skip
        st.rerun()
    if marks and st.button("Take the last mark back"):
        marks.pop()
        st.rerun()
    return marks


def _lane(clip: ClipRecord, marks: list[dict[str, Any]], units: Units) -> None:
    near = [units.bare_distance(each["distance_m"]) for each in marks if each["row"] == "near"]
    text = st.text_input(
        f"Distances to time, in the order they are passed, {units.distance_name}", " ".join(near)
    )
    try:
        course_m = [float(word) * units.m_per_distance for word in text.replace(",", " ").split()]
    except ValueError:
        st.error("Distances are numbers with spaces between them.")
        return
    setup = lane_setup(marks, course_m=course_m, measures=_ask_measures(units))
    facts = clip.report["clip"]
    trial = try_lane(setup, width_px=facts["width_px"], height_px=facts["height_px"])
    if trial.fault:
        st.warning(say.plain(trial.fault))
        return
    rows = [[fit.name, f"{fit.off_px:.1f} px"] for fit in trial.fits]
    say.table(["mark", "off by"], rows, numbers=[1], caption="How well the marks fit one camera")
    _keep(setup)


def _ask_measures(units: Units) -> dict[str, Any]:
    """Ask for the rest of a lane: where the phone stands, what is run on."""
    columns, name = st.columns(3), units.distance_name
    asked = {
        "athlete_offset_m": columns[0].number_input(
            f"Cones to the line run on, {name}", value=0.5, step=0.1),
        "phone_distance_m": columns[1].number_input(
            f"Phone to the near row, {name}", value=None, min_value=0.5, step=0.5),
        "phone_height_m": columns[2].number_input(
            f"Phone above the ground, {name}", value=None, min_value=0.1, step=0.1),
        "row_spacing_m": columns[0].number_input(
            f"Near row to far row, {name}", value=None, min_value=0.1, step=0.1),
    }  # fmt: skip
    in_m = {
        key: None if value is None else value * units.m_per_distance
        for key, value in asked.items()
    }
    surface = columns[1].text_input("Surface", "grass", max_chars=30)
    slope_pct = columns[2].number_input("Slope along the lane, %", value=0.0, step=0.5)
    return {**in_m, "surface": surface, "slope_pct": slope_pct}


def _length(marks: list[dict[str, Any]], units: Units) -> None:
    length = st.number_input(
        f"Length between the two marks, {units.distance_name}", value=1.0, min_value=0.05
    )
    if len(marks) < 2:
        st.info("Set a mark on each end of something whose length you know, at the athlete.")
        return
    _keep(reference_setup(marks, length_m=float(length) * units.m_per_distance))


def _keep(setup: dict[str, Any]) -> None:
    viewer, at = viewer_now(), at_desk()
    teams = at.desk.people.list_teams(viewer)
    with st.form("keep"):
        team = st.selectbox("Team", teams, format_func=lambda each: each.name)
        name = st.text_input("Name of the place", max_chars=100)
        if st.form_submit_button("Keep this place", type="primary") and team is not None:
            try:
                at.desk.reviews.save_place(team.team_id, name=name, setup=setup, now=now())
            except (ValueError, HistoryFailed) as error:
                st.error(say.plain(str(error)))
            else:
                st.rerun()
