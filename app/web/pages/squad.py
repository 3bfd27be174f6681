"""A coach's first page: who has trained, and which clips wait for a look."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from app.exercises import name_exercise
from app.history.clip_jobs import JobRecord
from app.plan.week import look_at_week
from app.web import say
from app.web.asking import WAITING_SINCE, Waiting, list_waiting, monday_of
from app.web.links import link
from app.web.session import at_desk, now, viewer_now

SHOWN_AT_ONCE = 40


def show() -> None:
    """Show the week so far."""
    viewer, at = viewer_now(), at_desk()
    st.title("Squad")
    teams = at.desk.people.list_teams(viewer)
    today = now().astimezone().date()
    monday = monday_of(today)
    for team in teams:
        st.subheader(say.plain(team.name))
        faces = at.desk.people.list_athletes(viewer, team_id=team.team_id)
        if not faces:
            st.info("Nobody is in this team yet. Invite athletes on the page “People”.")
            continue
        days = at.desk.plans.list_days([team.team_id], first=monday,
                                       last=monday + timedelta(days=6))  # fmt: skip
        ticks = at.desk.plans.list_ticks([e.entry_id or 0 for day in days for e in day.entries])
        clips = at.desk.reviews.list_clips([f.athlete_id for f in faces], since=monday)
        rows = [
            look_at_week(face.athlete_id, days=days, clips=clips, ticks=ticks, today=today)
            for face in faces
        ]
        say.table(
            ["athlete", "trained on", "clips this week", "of the plan so far", "ground contacts"],
            [
                [face.name, row.days_said, str(row.clip_count), row.plan_said, row.contacts_said]
                for face, row in zip(faces, rows, strict=True)
            ],
            numbers=[2],
        )
    _waiting()


def _waiting() -> None:
    viewer, at = viewer_now(), at_desk()
    waiting = list_waiting(at, viewer)
    faces = at.desk.people.list_athletes(viewer)
    refused = at.desk.jobs.list_without_result(
        [face.athlete_id for face in faces], since=now() - WAITING_SINCE
    )
    refused = [job for job in refused if job.result_id is None]  # others are among the clips
    st.subheader(f"Waiting for a look: {len(waiting) + len(refused)}")
    lines: list[tuple[date, Waiting | JobRecord]] = [
        (each.clip.on_date, each) for each in waiting
    ]
    lines += [(job.uploaded_at.astimezone().date(), job) for job in refused]
    for _, each in sorted(lines, key=lambda line: line[0])[:SHOWN_AT_ONCE]:
        if isinstance(each, Waiting):
            what = f"{name_exercise(each.clip.exercise)}, {say.filmed(each.clip)}"
            title = f"{each.clip.athlete} — {what} · {', '.join(each.reasons)}"
            link(title, "review", id=each.clip.clip_id)
        else:
            why = each.message or "nothing was measured"
            what = f"{each.file_name}, {say.moment(each.uploaded_at)}"
            link(f"{each.athlete} — {what} · {why}", "clip", job=each.job_id)
    if not lines:
        st.write("Nothing waits.")
