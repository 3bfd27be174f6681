"""What somebody decides about themselves: units, agreement, sign-out, deleting everything."""

from __future__ import annotations

import streamlit as st

from app.accounts.people import Viewer
from app.web import say
from app.web.body import ask_body
from app.web.session import at_desk, viewer_now

DELETE_WORD = "delete"


def show() -> None:
    """Show the viewer's own page."""
    viewer = viewer_now()
    st.title(say.plain(viewer.name))
    _units(viewer)
    st.html(
        '<form method="post" action="/leave" style="display:flex;gap:.6rem;flex-wrap:wrap">'
        '<button style="min-height:48px;padding:0 1rem;font:inherit">Sign out</button>'
        '<button name="everywhere" value="yes" style="min-height:48px;padding:0 1rem;'
        'font:inherit">Sign out everywhere</button></form>'
    )
    if viewer.athlete_id is not None:
        _body(viewer, viewer.athlete_id)
        _agreement(viewer.athlete_id)
        _delete(viewer.athlete_id)


def _units(viewer: Viewer) -> None:
    st.subheader("Units")
    inches = st.radio("Heights in", ["cm", "inches"], index=int(viewer.uses_inches),
                      horizontal=True)  # fmt: skip
    yards = st.radio("Distances in", ["metres", "yards"], index=int(viewer.uses_yards),
                     horizontal=True)  # fmt: skip
    chosen = (inches == "inches", yards == "yards")
    if chosen != (viewer.uses_inches, viewer.uses_yards):
        at_desk().desk.people.set_units(
            viewer.account_id, uses_inches=chosen[0], uses_yards=chosen[1]
        )
        st.rerun()


def _body(viewer: Viewer, athlete_id: int) -> None:
    people = at_desk().desk.people
    face = people.list_athletes(viewer)[0]
    with st.form("body"):
        st.subheader("My body")
        stature_m, mass_kg = ask_body(face.stature_m, face.mass_kg)
        st.caption("Clips that you send from now on are measured with these.")
        if st.form_submit_button("Keep"):
            people.keep_body(athlete_id, stature_m=stature_m, mass_kg=mass_kg)
            st.success("Kept.")


def _agreement(athlete_id: int) -> None:
    st.subheader("What was agreed")
    for consent in at_desk().desk.people.list_consents(athlete_id):
        who = "as parent or guardian" if consent.is_guardian else "as the athlete"
        when = say.moment(consent.given_at)
        say.note(f"{consent.given_by}, {who}, {when}", consent.wording)


def _delete(athlete_id: int) -> None:
    st.subheader("Delete everything about me")
    st.write("Clips, pictures, numbers, notes and the account go at once and can’t be had back.")
    typed = st.text_input(f"To be sure, type: {DELETE_WORD}")
    if st.button("Delete everything", disabled=typed.strip().lower() != DELETE_WORD):
        from app.web.leaving import delete_everything

        delete_everything(at_desk(), athlete_id)
        st.rerun()
