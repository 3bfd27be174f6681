"""An athlete's plan of today, in order."""

from __future__ import annotations

from datetime import timedelta
from itertools import groupby

import streamlit as st

from app.exercises import name_exercise
from app.history.plans import Entry, PlannedDay
from app.web import say
from app.web.links import link
from app.web.session import at_desk, now, viewer_now

LOOK_AHEAD = timedelta(days=14)


def show() -> None:
    """Show what is planned, tick off what is not filmed."""
    viewer, at = viewer_now(), at_desk()
    today = now().astimezone().date()
    st.title(f"Today, {say.day(today)}")
    days = at.desk.plans.list_days(viewer.team_ids, first=today, last=today)
    if not any(day.entries for day in days):
        st.write("Nothing is planned for today. You can film any exercise.")
        link("Film a repetition", "film")
        _show_next()
        return
    done = at.desk.plans.list_ticks([e.entry_id or 0 for day in days for e in day.entries])
    clips = at.desk.reviews.list_clips([viewer.athlete_id or 0], since=today)
    filmed = [clip.exercise for clip in clips]
    for day in days:
        _show_day(day, done, filmed)


def _show_next() -> None:
    viewer, at = viewer_now(), at_desk()
    today = now().astimezone().date()
    days = at.desk.plans.list_days(viewer.team_ids, first=today, last=today + LOOK_AHEAD)
    if days:
        st.write(f"Next: {say.plain(say.day(days[0].on_date))}, {say.plain(days[0].title)}.")


def _show_day(day: PlannedDay, done: set[tuple[int, int]], filmed: list[str | None]) -> None:
    if day.title:
        st.subheader(say.plain(day.title))
    for pair, entries in groupby(day.entries, key=lambda entry: entry.pair):
        with st.container(border=True):
            if pair:
                st.caption(f"Together: {say.plain(pair)}")
            for entry in entries:
                _show_entry(entry, done, filmed)


def _show_entry(entry: Entry, done: set[tuple[int, int]], filmed: list[str | None]) -> None:
    viewer = viewer_now()
    amount = dose(entry)
    more = f" — {say.plain(amount)}" if amount else ""
    st.markdown(f"**{say.plain(title_of(entry))}**{more}")
    if entry.exercise is not None:
        count = filmed.count(entry.exercise)
        clips = "1 clip" if count == 1 else f"{count} clips"
        link(f"Film it · {clips} today", "film", exercise=entry.exercise)
        return
    key = (entry.entry_id or 0, viewer.athlete_id or 0)
    ticked = st.checkbox("done", value=key in done, key=f"tick{entry.entry_id}")
    if ticked != (key in done):
        at_desk().desk.plans.tick(key[0], athlete_id=key[1], is_done=ticked, now=now())


def title_of(entry: Entry) -> str:
    """Give what is to be done, in the coach's words where there are any."""
    return entry.text or name_exercise(entry.exercise)


def dose(entry: Entry) -> str:
    """Give sets, repetitions, rest and target of an entry in words."""
    side = " each side" if entry.is_each_side else ""
    parts = [] if entry.repetition_count == 1 else [f"{entry.sets} × {entry.repetitions}{side}"]
    if entry.pause_s:
        parts.append(f"{entry.pause_s:g} s between repetitions")
    if entry.rest_s:
        parts.append(f"rest {entry.rest_s:g} s between sets")
    if entry.target:
        parts.append(f"target: {entry.target}")
    return ", ".join(parts)
