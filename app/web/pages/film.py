"""Film and send: which exercise, how to film it, the clips, how far they are."""

from __future__ import annotations

import streamlit as st

from app.accounts.people import Viewer
from app.exercises import EXERCISE_NAMES, name_exercise
from app.web import say
from app.web.asking import pick_athlete
from app.web.components import show_svg, upload_clips
from app.web.filming import draw_guide, guide_for
from app.web.links import link
from app.web.pages.clip import STATUS_WORDS
from app.web.session import at_desk, now, number_asked, viewer_now
from measure.types import FEET, Foot


def show() -> None:
    """Choose, read, send, watch."""
    viewer, at = viewer_now(), at_desk()
    st.title("Add clips" if viewer.is_coach else "Film")
    athlete_id = _athlete(viewer)
    if athlete_id is None:
        st.info("There is no athlete yet; make one on the page “People”.")
        return
    exercise = _exercise()
    guide = guide_for(exercise)
    left, right = st.columns([1, 1])
    with left:
        show_svg(draw_guide(guide), key="guide")
    with right:
        for line in guide.lines:
            st.markdown(f"- {say.plain(line)}")
    place_id = None
    if guide.seen_from == "lane" or at.desk.reviews.list_places(viewer.team_ids):
        place_id = _place(viewer)
    start_foot = _start_foot() if guide.seen_from == "lane" else None
    key = f"clips-{athlete_id}-{exercise}-{place_id}-{start_foot}"
    jobs = upload_clips(
        athlete_id=athlete_id, exercise=exercise, place_id=place_id, start_foot=start_foot, key=key
    )
    if len(jobs) == 1:
        st.query_params.clear()
        st.session_state["sent"] = jobs
    _watch(athlete_id)


def _athlete(viewer: Viewer) -> int | None:
    if not viewer.is_coach:
        return viewer.athlete_id
    faces = at_desk().desk.people.list_athletes(viewer)
    asked = pick_athlete(faces, number_asked("athlete"))
    place = faces.index(asked) if asked in faces else 0
    face = st.selectbox("Athlete", faces, index=place, format_func=lambda each: each.name)
    return face.athlete_id if face else None


def _exercise() -> str | None:
    asked = st.query_params.get("exercise") or _planned()
    keys = [*EXERCISE_NAMES, None]
    place = keys.index(asked) if asked in EXERCISE_NAMES else 0
    return st.selectbox(
        "Exercise", keys, index=place,
        format_func=lambda key: "whatever is seen" if key is None else name_exercise(key),
    )  # fmt: skip


def _planned() -> str | None:
    """Give the first filmed exercise of today's plan."""
    today = now().astimezone().date()
    days = at_desk().desk.plans.list_days(viewer_now().team_ids, first=today, last=today)
    return next((e.exercise for day in days for e in day.entries if e.exercise), None)


def _place(viewer: Viewer) -> int | None:
    places = at_desk().desk.reviews.list_places(viewer.team_ids)
    chosen = st.selectbox(
        "Place", [None, *places],
        format_func=lambda each: "not marked" if each is None else each.name,
        help="A lane or length that your coach has marked in “Places”. Sprints need one.",
    )  # fmt: skip
    return chosen.place_id if chosen else None


def _start_foot() -> Foot | None:
    return st.selectbox(
        "Foot in front at the start", [None, *FEET],
        format_func=lambda foot: "not said" if foot is None else foot,
        help="Starts with the left and with the right foot in front are compared like sides.",
    )  # fmt: skip


@st.fragment(run_every="1s")
def _watch(athlete_id: int) -> None:
    """Show how far the newest clips are; looked up with the viewer's right every time."""
    viewer, at = viewer_now(), at_desk()
    if not at.desk.people.may_see(viewer, athlete_id):
        return
    jobs = at.desk.jobs.list_for(athlete_id, limit=6)
    if jobs:
        st.subheader("Sent")
    for job in jobs:
        title = f"{job.file_name} · {name_exercise(job.exercise)}"
        if job.is_open:
            words = STATUS_WORDS[job.status] if job.status == "waiting" else job.step or ""
            link(title, "clip", job=job.job_id)
            st.progress(job.part, text=f"{int(100 * job.part)} % · {say.plain(words)}")
        else:
            link(f"{title} — {STATUS_WORDS[job.status]}", "clip", job=job.job_id)
