"""The week that a coach writes: sessions, entries, ground contacts."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import streamlit as st

from app.exercises import EXERCISE_NAMES, name_exercise
from app.history.plans import Entry, PlannedDay
from app.plan.week import (
    RANGES_SAID,
    count_done_contacts,
    count_planned_contacts,
    place_in_ranges,
)
from app.web import say
from app.web.asking import monday_of
from app.web.session import at_desk, not_yours, now, viewer_now

NAMES = {key: name for key, name in EXERCISE_NAMES.items()}
KEYS = {name: key for key, name in NAMES.items()}
ONLY_TICKED = "ticked off, not filmed"


def show() -> None:
    """Show a week and edit its days."""
    viewer, at = viewer_now(), at_desk()
    if not viewer.is_coach:
        not_yours()
    st.title("Plan")
    team_column, week_column = st.columns(2)
    team = team_column.selectbox(
        "Team", at.desk.people.list_teams(viewer), format_func=lambda each: each.name
    )
    if team is None:
        return
    today = now().astimezone().date()
    monday = monday_of(week_column.date_input("Week of", today))
    days = at.desk.plans.list_days([team.team_id], first=monday, last=monday + timedelta(days=6))
    by_date = {day.on_date: day for day in days}
    _contacts(team.team_id, days, monday)
    for offset in range(7):
        on_date = monday + timedelta(days=offset)
        day = by_date.get(on_date) or PlannedDay(team.team_id, on_date, "", ())
        title = f"{say.day(on_date)} · {day.title}" if day.entries else f"{say.day(on_date)} · free"
        with st.expander(say.plain(title), expanded=on_date == today):
            _edit(day)
    _copy(team.team_id, monday)


def _edit(day: PlannedDay) -> None:
    with st.form(f"day{day.team_id}{day.on_date}"):
        title = st.text_input("Title", day.title or "Session", max_chars=100)
        rows = st.data_editor(
            [_row(entry) for entry in day.entries] or [_row(Entry("", "vertical", 3, 5))],
            num_rows="dynamic", hide_index=True, key=f"rows{day.team_id}{day.on_date}",
            column_config=_columns(),
        )  # fmt: skip
        st.caption("Lines with the same letter are done together. Empty a day to free it.")
        if st.form_submit_button("Save this day", type="primary"):
            _save(day, title, rows)
    if day.entries and st.button("Free this day", key=f"free{day.team_id}{day.on_date}"):
        at_desk().desk.plans.save_day(PlannedDay(day.team_id, day.on_date, "", ()))
        st.rerun()


def _save(day: PlannedDay, title: str, rows: list[dict[str, Any]]) -> None:
    try:
        entries = tuple(entry for row in rows if (entry := _entry(row)) is not None)
    except (TypeError, ValueError):
        st.error("Sets and repetitions are whole numbers from 1 to 99; times are seconds.")
        return
    at_desk().desk.plans.save_day(PlannedDay(day.team_id, day.on_date, title, entries))
    st.rerun()


def _columns() -> dict[str, Any]:
    column = st.column_config
    return {
        "pair": column.TextColumn("together", width="small", max_chars=3),
        "exercise": column.SelectboxColumn("exercise", options=[*KEYS, ONLY_TICKED]),
        "text": column.TextColumn("in your words", max_chars=200),
        "sets": column.NumberColumn("sets", min_value=1, max_value=99, step=1, width="small"),
        "reps": column.NumberColumn("reps", min_value=1, max_value=99, step=1, width="small"),
        "each side": column.CheckboxColumn("each side", width="small"),
        "pause": column.NumberColumn("pause, s", min_value=0, width="small"),
        "rest": column.NumberColumn("rest, s", min_value=0, width="small"),
        "target": column.TextColumn("target", max_chars=100),
        "id": None,
    }


def _row(entry: Entry) -> dict[str, Any]:
    return {
        "pair": entry.pair,
        "exercise": ONLY_TICKED if entry.exercise is None else NAMES[entry.exercise],
        "text": entry.text, "sets": entry.sets, "reps": entry.repetitions,
        "each side": entry.is_each_side, "pause": entry.pause_s, "rest": entry.rest_s,
        "target": entry.target, "id": entry.entry_id,
    }  # fmt: skip


def _entry(row: dict[str, Any]) -> Entry | None:
    exercise, text = KEYS.get(row.get("exercise") or ""), (row.get("text") or "").strip()
    if exercise is None and not text:
        return None
    sets, repetitions = int(row.get("sets") or 1), int(row.get("reps") or 1)
    if not (1 <= sets <= 99 and 1 <= repetitions <= 99):
        raise ValueError("sets, reps: expected 1 to 99")
    return Entry(
        text or name_exercise(exercise), exercise, sets, repetitions, bool(row.get("each side")),
        row.get("rest"), row.get("pause"), row.get("target") or "", row.get("pair") or "",
        row.get("id"),
    )  # fmt: skip


def _contacts(team_id: int, days: list[PlannedDay], monday: date) -> None:
    viewer, at = viewer_now(), at_desk()
    faces = at.desk.people.list_athletes(viewer, team_id=team_id)
    clips = at.desk.reviews.list_clips([face.athlete_id for face in faces], since=monday)
    rows = []
    for day in days:
        done = [clip for clip in clips if clip.on_date == day.on_date]
        people = len({clip.athlete_id for clip in done})
        planned = count_planned_contacts(day)
        average = f"{count_done_contacts(done) / people:.0f}" if people else "–"
        rows.append([say.day(day.on_date), day.title, str(planned), place_in_ranges(planned),
                     average, str(people)])  # fmt: skip
    if rows:
        total = sum(count_planned_contacts(day) for day in days)
        rows.append(["the week", "", str(total), "", "", ""])
        say.table(
            ["day", "session", "contacts planned", "published ranges for one session",
             "measured per athlete", "athletes"], rows, numbers=(2, 4, 5),
        )  # fmt: skip
        st.caption(say.plain(RANGES_SAID))


def _copy(team_id: int, monday: date) -> None:
    st.subheader("Copy this week to the next")
    with st.form("copy"):
        sets = st.number_input("more sets of each filmed exercise", 0, 5, 0)
        repetitions = st.number_input("more repetitions in each set", 0, 10, 0)
        if st.form_submit_button("Copy"):
            count = at_desk().desk.plans.copy_week(
                team_id, monday=monday, more_sets=int(sets), more_repetitions=int(repetitions)
            )
            st.success(f"{count} sessions copied; days that were planned already stay as they are.")
