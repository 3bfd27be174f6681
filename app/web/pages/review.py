"""One clip under a coach's eyes: frames, events moved by hand, verdicts, notes."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.errors import HistoryFailed
from app.exercises import name_exercise
from app.history.reviews import MoveRecord
from app.repetitions import QUANTITIES
from app.report.text import STANDING_NOTICE
from app.report.units import Units
from app.review_events import EventMark, find_nearest, list_events, make_move
from app.web import say
from app.web.asking import ClipView, list_waiting, view_clip
from app.web.clip_numbers import SHOWN, explain
from app.web.components import step_film
from app.web.rights import NotYours, clip_for
from app.web.session import at_desk, not_yours, now, number_asked, units_of, viewer_now

TYPED_S = 5e-5
"""A time that differs by more was typed: four decimals are shown."""


def show() -> None:
    """Show the clip that is asked for, else the oldest that waits."""
    viewer, at = viewer_now(), at_desk()
    if not viewer.is_coach:
        not_yours()
    clip_id = number_asked("id") or _choose()
    if clip_id is None:
        st.title("Review")
        st.success("No clip waits for a look.")
        return
    try:
        view = view_clip(at, viewer, clip_id)
    except NotYours:
        not_yours()
    title = f"{say.plain(view.clip.athlete)}, {say.plain(name_exercise(view.clip.exercise))}"
    st.title(title)
    st.caption(say.plain(say.filmed(view.clip)))
    _say_changed(view)
    film, words = st.columns([3, 2])
    with film:
        units = units_of(viewer)
        events = list_events(view.clip.report, units)
        chosen = _film(view, events)
        _move(view, events, chosen)
    with words:
        _numbers(view, units)
        _judge(view)
        _note(view)
    _history(view)


def _choose() -> int | None:
    viewer, at = viewer_now(), at_desk()
    waiting = list_waiting(at, viewer)
    return waiting[0].clip.clip_id if waiting else None


def _say_changed(view: ClipView) -> None:
    """Say that somebody else moved an event since this visit last showed the clip."""
    shown = st.session_state.get("reviewed")
    st.session_state["reviewed"] = (view.clip.clip_id, view.clip.result_id)
    if shown is None or shown[0] != view.clip.clip_id or shown[1] == view.clip.result_id:
        return
    changes = [(move.moved_at, move.by_name) for move in view.moves]
    changes += [(move.undone_at, move.undone_by) for move in view.moves if move.undone_at]
    by_name = max(changes)[1] if changes else ""
    if by_name != viewer_now().name:
        who = by_name or "Somebody"
        st.warning(
            f"{say.plain(who)} changed this clip while you were looking at it. Nothing of yours "
            "was kept; look at it as it is now, and decide again."
        )


def _film(view: ClipView, events: list[EventMark]) -> dict[str, Any] | None:
    if not view.frame_times or not view.has_clip:
        st.info("The film of this clip is not kept here; events can be moved by typing the time.")
        return None
    slow = float(view.clip.report["time_base"]["file_s_per_s"])
    marks = [
        {"time": each.time_s * slow, "label": each.label, "kind": each.kind} for each in events
    ]
    start = next((k for k, t in enumerate(view.frame_times) if marks and t >= marks[0]["time"]), 0)
    return step_film(
        src=f"/files/{view.clip.clip_sha256}/clip", times=view.frame_times, slow=slow,
        events=marks, start=start, can_choose=True, key=f"film{view.clip.clip_id}",
    )  # fmt: skip


def _move(
    view: ClipView, events: list[EventMark], chosen: dict[str, Any] | None
) -> None:
    if not events:
        return
    st.subheader("Move an event by hand")
    st.caption(
        "Step to the first frame in which the foot is off the ground (take-off), touches it "
        "(landing), or the hips are past the mark (crossing), and take that frame."
    )
    slow = float(view.clip.report["time_base"]["file_s_per_s"])
    taken_s = None if chosen is None else chosen["time"] / slow
    meant = 0 if taken_s is None else find_nearest(events, taken_s)
    event = st.selectbox("Event", events, index=meant, format_func=lambda each: each.label)
    start_s = event.time_s if taken_s is None else taken_s
    with st.form(f"move{view.clip.result_id}"):
        shown_at = f"time{event.name}{start_s:.4f}{view.clip.result_id}"
        time_s = st.number_input(
            "at, seconds", value=float(start_s), step=0.001, format="%.4f", key=shown_at
        )
        st.caption(f"It stands at {event.time_s:.4f} ± {event.sigma_s:.4f} s now.")
        why = st.text_input("Why", max_chars=500)
        if st.form_submit_button("Move it", type="primary"):
            is_frame = taken_s is not None and abs(time_s - taken_s) < TYPED_S
            _do_move(view, event, float(time_s), why=why, is_frame=is_frame)


def _do_move(
    view: ClipView, event: EventMark, time_s: float, *, why: str, is_frame: bool
) -> None:
    viewer, at = viewer_now(), at_desk()
    if not why.strip():
        st.warning("Say why; others will want to know.")
        return
    try:
        clip_for(viewer, view.clip.clip_id, at)
        move = make_move(event, time_s, view.clip.report, is_frame=is_frame)
        at.desk.reviews.move_event(view.clip, move, why=why, by_name=viewer.name, now=now())
        at.forget_drawing(view.clip)
    except NotYours:
        not_yours()
    except (ValueError, HistoryFailed) as error:
        st.error(say.plain(str(error)))
        return
    st.rerun()


def _numbers(view: ClipView, units: Units) -> None:
    st.subheader("Numbers")
    sprint = [each for each in view.repetitions if each.kind.is_sprint]
    for each in sprint:
        shown = units.quantity("time", each.value("split"), each.sigma("split"))
        st.write(f"{say.plain(each.kind.stretch(units))}: **{say.plain(shown)}**")
    for each in view.repetitions:
        if each.kind.is_sprint:
            continue
        if len(view.repetitions) > 1:
            st.markdown(f"**Jump {each.number}**")
        say.facts(
            [
                (QUANTITIES[key].name,
                 units.quantity(QUANTITIES[key].unit, each.value(key), each.sigma(key)))
                for key in SHOWN
                if each.value(key) is not None
            ]
        )  # fmt: skip
    if view.repetitions:
        explain(view.repetitions)
    cautions = view.clip.report.get("cautions", [])
    for item in cautions:
        say.finding(
            item["text"], seen=item["seen"], threshold=item["threshold"], source=item["source"]
        )
    if cautions:
        st.caption(say.plain(STANDING_NOTICE))


def _judge(view: ClipView) -> None:
    st.subheader("Count it?")
    viewer, at = viewer_now(), at_desk()
    choices = [0, *(each.number for each in view.repetitions if each.number)]
    for number, word in sorted((key[1], word) for key, word in view.verdicts.items()):
        what = "Whole clip" if number == 0 else f"Jump {number}"
        said = "accepted" if word.is_accepted else "left out"
        say.note(f"{what} {said}", f"{word.by_name}, {say.moment(word.given_at)}. {word.reason}")
    with st.form(f"judge{view.clip.clip_id}", clear_on_submit=True):
        number = st.selectbox(
            "Repetition", choices,
            format_func=lambda each: "the whole clip" if each == 0 else f"jump {each}",
        )  # fmt: skip
        reason = st.text_input("Reason, where it is left out", max_chars=500)
        accept, reject = st.columns(2)
        is_accepted = accept.form_submit_button("Accept", type="primary", width="stretch")
        is_rejected = reject.form_submit_button("Leave out", width="stretch")
    if is_rejected and not reason.strip():
        st.warning("Say why it is left out; the athlete sees it.")
    elif is_accepted or is_rejected:
        at.desk.reviews.judge(
            view.clip.clip_id, jump_number=number, is_accepted=is_accepted, reason=reason,
            by_name=viewer.name, now=now(),
        )  # fmt: skip
        st.rerun()


def _note(view: ClipView) -> None:
    st.subheader("Notes to the athlete")
    viewer, at = viewer_now(), at_desk()
    for note in view.notes:
        say.note(f"{note.by_name}, {say.moment(note.written_at)}", note.text)
    with st.form(f"note{view.clip.clip_id}", clear_on_submit=True):
        text = st.text_area("Note", max_chars=2000)
        if st.form_submit_button("Send") and text.strip():
            at.desk.reviews.write_note(
                view.clip.clip_id, text=text, by_name=viewer.name, now=now()
            )
            st.rerun()


def _history(view: ClipView) -> None:
    if not view.moves:
        return
    st.subheader("Moved by hand")
    for move in view.moves:
        _show_move(view, move)


def _show_move(view: ClipView, move: MoveRecord) -> None:
    viewer, at = viewer_now(), at_desk()
    event = move.event.replace("_", "-").replace(":", " ")
    text = (
        f"{event}: {move.from_s:.4f} s to {move.to_s:.4f} s, by {move.by_name}, "
        f"{say.moment(move.moved_at)}. {move.why}"
    )
    if move.undone_at is not None:
        say.note("Put back", f"{text} Put back by {move.undone_by}, {say.moment(move.undone_at)}.")
        return
    say.note("Moved", text)
    if st.button(f"Put back the {event}", key=f"undo{move.move_id}"):
        try:
            at.desk.reviews.undo_move(view.clip, move.move_id, by_name=viewer.name, now=now())
            at.forget_drawing(view.clip)
        except (ValueError, HistoryFailed) as error:
            st.error(say.plain(str(error)))
            return
        st.rerun()
