"""The week that a coach writes: sessions, their lines, ground contacts."""

from __future__ import annotations

from datetime import date, timedelta

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
from app.web.pages.today import dose, title_of
from app.web.session import at_desk, not_yours, now, viewer_now

ONLY_TICKED = "ticked off, not filmed"


def show() -> None:
    """Show a week and edit one of its days."""
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
    _contacts(team.team_id, days, monday)
    by_date = {day.on_date: day for day in days}
    dates = [monday + timedelta(days=offset) for offset in range(7)]
    on_date = st.radio(
        "Day", dates, index=dates.index(today) if today in dates else 0, horizontal=True,
        format_func=lambda each: f"{say.day(each)}{'' if each in by_date else ' (free)'}",
        key=f"day{team.team_id}{monday}",
    )  # fmt: skip
    _edit(by_date.get(on_date) or PlannedDay(team.team_id, on_date, "", ()))
    _copy(team.team_id, monday)


def _edit(day: PlannedDay) -> None:
    """Show a day's lines in order, and one of them, or a new one, to change."""
    st.subheader(say.plain(f"{say.day(day.on_date)} · {day.title or 'free'}"))
    if day.entries:
        rows = [[str(n), title_of(each), dose(each), each.pair] for n, each in _numbered(day)]
        say.table(["", "what", "how much", "together"], rows)
    choices = [None, *(n for n, _ in _numbered(day))]
    number = st.selectbox(
        "Line", choices, key=f"line{day.team_id}{day.on_date}{len(day.entries)}",
        format_func=lambda n: "a new line" if n is None else f"{n}: "
        f"{title_of(day.entries[n - 1])}",
    )  # fmt: skip
    entry = Entry("", "vertical", 3, 5) if number is None else day.entries[number - 1]
    with st.form(f"entry{day.team_id}{day.on_date}{number}{len(day.entries)}"):
        title, place, changed = _ask(day, entry, number)
        save, remove = st.columns(2)
        is_saved = save.form_submit_button("Save this line", type="primary", width="stretch")
        is_removed = number is not None and remove.form_submit_button(
            "Remove this line", width="stretch"
        )
    if not (is_saved or is_removed):
        return
    if is_saved and changed.exercise is None and not changed.text:
        st.warning("Say in your words what is to be done.")
        return
    others = [each for n, each in _numbered(day) if n != number]
    if is_saved:
        others.insert(place - 1, changed)
    at_desk().desk.plans.save_day(PlannedDay(day.team_id, day.on_date, title, tuple(others)))
    st.rerun()


def _ask(day: PlannedDay, entry: Entry, number: int | None) -> tuple[str, int, Entry]:
    """Ask for the session's title, the line's place in it, and the line."""
    title = st.text_input("Session", day.title or "Session", max_chars=100)
    exercises = [*EXERCISE_NAMES, None]
    exercise = st.selectbox(
        "Exercise", exercises, index=exercises.index(entry.exercise),
        format_func=lambda key: ONLY_TICKED if key is None else name_exercise(key),
    )  # fmt: skip
    text = st.text_input("In your words", entry.text, max_chars=200)
    first, second = st.columns(2)
    sets = first.number_input("Sets", 1, 99, entry.sets)
    repetitions = second.number_input("Repetitions", 1, 99, entry.repetitions)
    is_each_side = st.checkbox("each side", entry.is_each_side)
    first, second = st.columns(2)
    pause_s = first.number_input("Pause between repetitions, s", 0.0, 3600.0, entry.pause_s)
    rest_s = second.number_input("Rest between sets, s", 0.0, 3600.0, entry.rest_s)
    target = st.text_input("Target", entry.target, max_chars=100)
    first, second = st.columns(2)
    pair = first.text_input("Together (same letter)", entry.pair, max_chars=3)
    last = len(day.entries) + (number is None)
    place = second.number_input("Place in the session", 1, last, number or last)
    line = Entry(
        text.strip(), exercise, int(sets), int(repetitions), is_each_side, rest_s, pause_s,
        target.strip(), pair.strip(), entry.entry_id,
    )  # fmt: skip
    return title, int(place), line


def _numbered(day: PlannedDay) -> list[tuple[int, Entry]]:
    return list(enumerate(day.entries, start=1))


def _contacts(team_id: int, days: list[PlannedDay], monday: date) -> None:
    viewer, at = viewer_now(), at_desk()
    faces = at.desk.people.list_athletes(viewer, team_id=team_id)
    newest = at.desk.reviews.list_clips([face.athlete_id for face in faces], since=monday)
    clips = [clip for clip in newest if clip.on_date < monday + timedelta(days=7)]
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
        people = {clip.athlete_id for clip in clips}
        average = f"{count_done_contacts(clips) / len(people):.0f}" if people else "–"
        rows.append(["the week", "", str(total), "", average, str(len(people) or "")])
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
