"""A clip's result: the number, what to beat, the landing, the film."""

from __future__ import annotations

import streamlit as st

from app.exercises import EXERCISE_NAMES, name_exercise
from app.history.clip_jobs import JobRecord
from app.history.reviews import ClipRecord
from app.repetitions import QUANTITIES, list_repetitions, main_quantity
from app.report.text import STANDING_NOTICE, sentence
from app.report.units import Units
from app.standing import best_of_clip
from app.web import say
from app.web.asking import ClipView, view_clip
from app.web.clip_numbers import show_all, show_number, show_rest, show_splits
from app.web.filming import guide_for
from app.web.links import link
from app.web.rights import NotYours, clip_for, job_for
from app.web.session import at_desk, not_yours, now, number_asked, units_of, viewer_now

LANE_SAID = (
    "A run needs a lane: a coach marks it on the page “Places”, on a picture of this clip if you "
    "like. Then choose that place when you send the clip again."
)
STATUS_WORDS = {
    "waiting": "waiting for its turn", "running": "being measured", "done": "measured",
    "refused": "not measured", "failed": "broke off", "cancelled": "stopped",
}  # fmt: skip


def show() -> None:
    """Show one result, or the list of them."""
    viewer, at = viewer_now(), at_desk()
    clip_id, job_id = number_asked("id"), number_asked("job")
    try:
        if job_id is not None:
            _show_job(job_for(viewer, job_id, at))
        elif clip_id is not None:
            _show_clip(view_clip(at, viewer, clip_id), units_of(viewer))
        else:
            _list()
    except NotYours:
        not_yours()


def _list() -> None:
    viewer, at = viewer_now(), at_desk()
    st.title("Results")
    faces = at.desk.people.list_athletes(viewer)
    if viewer.is_coach:
        face = st.selectbox("Athlete", faces, format_func=lambda each: each.name)
        athlete_id = face.athlete_id if face else None
    else:
        athlete_id = viewer.athlete_id
    jobs = at.desk.jobs.list_for(athlete_id) if athlete_id is not None else []
    kept = at.desk.reviews.list_clips([athlete_id]) if athlete_id is not None else []
    for job in jobs:
        if job.status != "done":
            link(_line(say.moment(job.uploaded_at), name_exercise(job.exercise),
                       STATUS_WORDS[job.status]), "clip", job=job.job_id)  # fmt: skip
    units = units_of(viewer)
    for clip in reversed(kept):
        line = _line(say.filmed(clip), name_exercise(clip.exercise), _best_said(clip, units))
        link(line, "clip", id=clip.clip_id)
    if not jobs and not kept:
        st.info("Nothing yet. Film a repetition and send it on the page “Film”.")


def _best_said(clip: ClipRecord, units: Units) -> str:
    """Give the number that counts of a clip."""
    repetitions = list_repetitions([clip], {})
    best = best_of_clip(repetitions)
    if best is None:
        return "no number"
    key = main_quantity(repetitions)
    shown = units.quantity(QUANTITIES[key].unit, best.value(key), best.sigma(key))
    count = len(clip.report.get("jumps", ()))
    return f"best of {count} jumps {shown}" if count > 1 else shown


def _line(when: str, exercise: str, what: str) -> str:
    return f"{when} — {exercise} · {what}"


@st.fragment(run_every="1s")
def _watch(job_id: int) -> None:
    """Show how far a clip is until it is done."""
    try:
        job = job_for(viewer_now(), job_id, at_desk())
    except NotYours:
        not_yours()
    if not job.is_open:
        st.rerun()
    words = STATUS_WORDS[job.status] if job.step is None else job.step
    st.progress(job.part, text=f"{int(100 * job.part)} % · {say.plain(words)}")
    if st.button("Stop measuring", key=f"stop{job.job_id}"):
        at_desk().desk.jobs.cancel(job_id, now=now())
        at_desk().wake_runner()
        st.rerun()


def _show_job(job: JobRecord) -> None:
    at = at_desk()
    clip = at.desk.reviews.find_by_result(job.result_id) if job.result_id is not None else None
    if not job.is_open and clip is not None and job.status == "done":
        viewer = viewer_now()
        _show_clip(view_clip(at, viewer, clip.clip_id), units_of(viewer))
        return
    st.title(name_exercise(job.exercise))
    st.caption(f"{say.plain(job.file_name)} · sent {say.plain(say.moment(job.uploaded_at))}")
    if job.is_open:
        _watch(job.job_id)
        return
    st.subheader(f"This clip was {STATUS_WORDS[job.status]}")
    say.note("What was seen", sentence(job.message or ""))
    say.note("What to do", sentence(job.hint or ""))
    if job.status == "refused" and guide_for(job.exercise).seen_from == "lane":
        st.write(LANE_SAID)
    if at.files.has_clip(job.clip_sha256):
        _measure_again(job)
    if viewer_now().is_coach and not job.is_seen:
        st.write("It waits on the page “Squad” until a coach has looked at it.")
        if st.button("I have looked at it"):
            at.desk.jobs.mark_seen(job.job_id)
            st.rerun()


def _measure_again(job: JobRecord) -> None:
    with st.form("again"):
        keys = [None, *EXERCISE_NAMES]
        exercise = st.selectbox("Measure it again as", keys, format_func=name_exercise)
        if st.form_submit_button("Measure again"):
            at_desk().desk.jobs.measure_again(job.job_id, exercise=exercise)
            at_desk().wake_runner()
            st.rerun()


def _show_clip(view: ClipView, units: Units) -> None:
    clip = view.clip
    st.caption(f"{say.plain(clip.athlete)} · {say.plain(say.filmed(clip))}")
    st.title(sentence(name_exercise(clip.exercise)).rstrip("."))
    if view.standing is not None:
        show_number(view.standing, units)
        show_rest(view.standing, view.planned)
    if len(view.repetitions) > 1 and not view.repetitions[0].kind.is_sprint:
        show_all(view.repetitions, units)
    if view.repetitions and view.repetitions[0].kind.is_sprint:
        show_splits(view.repetitions, units)
    for note in view.notes:
        say.note(f"{note.by_name} writes", note.text)
    _show_rejected(view)
    _show_landing(view)
    _show_film(view)
    _show_missing(view)
    if view.moves and any(move.undone_at is None for move in view.moves):
        st.caption("Some events of this clip were set by hand by a coach; see “Review”.")


def _show_rejected(view: ClipView) -> None:
    for (_, number), word in sorted(view.verdicts.items()):
        if not word.is_accepted:
            what = "This clip" if number == 0 else f"Jump {number}"
            reason = f" {word.reason}" if word.reason else ""
            say.note("Not counted", f"{what} was left out by {word.by_name}.{reason}")


def _show_landing(view: ClipView) -> None:
    cautions = view.clip.report.get("cautions", [])
    has_landing = any(jump.get("landing") for jump in view.clip.report.get("jumps", []))
    if not cautions and not has_landing and not view.stills:
        return
    st.subheader("The landing" if view.clip.report.get("jumps") else "Pictures")
    for item in cautions:
        say.finding(
            item["text"], seen=item["seen"], threshold=item["threshold"], source=item["source"]
        )
    if has_landing and not cautions:
        st.write("Nothing stood out.")
    _show_pictures(view)
    if cautions or has_landing:
        st.caption(say.plain(STANDING_NOTICE))


def _show_pictures(view: ClipView) -> None:
    if view.stills:
        pictures = "".join(
            f'<figure style="margin:0"><img loading="lazy" style="width:100%;border-radius:6px" '
            f'src="/files/{view.clip.clip_sha256}/stills/{name}" alt="{_caption(name)}">'
            f"<figcaption>{_caption(name)}</figcaption></figure>"
            for name in view.stills
        )
        st.html(
            '<div style="display:grid;gap:.7rem;grid-template-columns:'
            f'repeat(auto-fit,minmax(min(100%,15rem),1fr))">{pictures}</div>'
        )


def _caption(name: str) -> str:
    words = name.rsplit(".", 1)[0].replace("_", " ").replace("jump", "jump ", 1)
    return words.replace("  ", " ").replace("take off", "take-off")


def _show_film(view: ClipView) -> None:
    if not (view.has_annotated or view.has_clip):
        return
    name = "annotated.mp4" if view.has_annotated else "clip"
    st.subheader("The film")
    st.html(
        f'<video controls playsinline preload="metadata" style="width:100%;max-height:70vh;'
        f'background:#000;border-radius:6px" src="/files/{view.clip.clip_sha256}/{name}"></video>'
    )
    if not view.has_annotated:
        _watch_drawing(view.clip.clip_id)


@st.fragment(run_every="2s")
def _watch_drawing(clip_id: int) -> None:
    """Have a film drawn that is not, and show it when it is there."""
    try:
        clip = clip_for(viewer_now(), clip_id, at_desk())
    except NotYours:
        not_yours()
    if at_desk().files.find_annotated(clip.clip_sha256) is not None:
        st.rerun()
    if at_desk().have_drawn(clip):
        st.caption("What was seen is being drawn into the film; it appears here by itself.")
    else:
        st.caption("This is the film as it was sent; what was seen could not be drawn into it.")


def _show_missing(view: ClipView) -> None:
    refusals = view.clip.report.get("refusals", [])
    if refusals:
        with st.expander(f"Not measured ({len(refusals)})"):
            for item in refusals:
                hint = sentence(item["hint"])
                say.note(item["what"].replace("_", " "), f"{sentence(item['reason'])} {hint}")
