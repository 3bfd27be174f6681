"""Teams, athletes and one-time links."""

from __future__ import annotations

import streamlit as st

from app.accounts.people import CONSENT_WORDING
from app.errors import HistoryFailed
from app.history.people import AthleteFace, TeamRecord
from app.web import say
from app.web.body import ask_body
from app.web.session import at_desk, not_yours, now, viewer_now


def show() -> None:
    """Show a coach's teams."""
    viewer, at = viewer_now(), at_desk()
    if not viewer.is_coach:
        not_yours()
    st.title("People")
    for team in at.desk.people.list_teams(viewer):
        st.subheader(say.plain(team.name))
        faces = at.desk.people.list_athletes(viewer, team_id=team.team_id)
        rows = [
            [f.name, "" if f.stature_m is None else f"{f.stature_m * 100:.0f} cm",
             "has an account" if f.has_account else "no account yet"]
            for f in faces
        ]  # fmt: skip
        if rows:
            say.table(["athlete", "body height", ""], rows)
        _invite(team, faces)
        _add(team)
        if faces:
            _change(team, faces)
    _new_team()


def _invite(team: TeamRecord, faces: list[AthleteFace]) -> None:
    with st.expander("Make a one-time link"):
        who: list[AthleteFace | str] = ["a new athlete"]
        who += [face for face in faces if not face.has_account]
        who.append("another coach")
        chosen = st.selectbox(
            "For", who, key=f"for{team.team_id}",
            format_func=lambda each: each if isinstance(each, str) else each.name,
        )  # fmt: skip
        if st.button("Make the link", key=f"link{team.team_id}"):
            token = at_desk().desk.people.invite(
                viewer_now(), team_id=team.team_id,
                role="coach" if chosen == "another coach" else "athlete",
                athlete_id=None if isinstance(chosen, str) else chosen.athlete_id, now=now(),
            )  # fmt: skip
            st.write("It works once, within 14 days. Send it to this person only:")
            host = st.context.headers.get("host", "")
            scheme = st.context.headers.get("x-forwarded-proto", "http")
            st.code(f"{scheme}://{host}/join/{token}", language=None)


def _add(team: TeamRecord) -> None:
    with st.expander("Add an athlete"), st.form(f"add{team.team_id}", clear_on_submit=True):
        name = st.text_input("Name", max_chars=100)
        stature_m, mass_kg = ask_body(None, None)
        if st.form_submit_button("Add"):
            try:
                people = at_desk().desk.people
                athlete_id = people.add_athlete(
                    viewer_now(), team_id=team.team_id, name=name, stature_m=stature_m, now=now()
                )
                if mass_kg is not None:
                    people.keep_body(athlete_id, stature_m=stature_m, mass_kg=mass_kg)
            except (ValueError, HistoryFailed) as error:
                st.error(say.plain(str(error)))
            else:
                st.rerun()


def _change(team: TeamRecord, faces: list[AthleteFace]) -> None:
    with st.expander("Change or delete an athlete"):
        face = st.selectbox("Athlete", faces, format_func=lambda each: each.name,
                            key=f"who{team.team_id}")  # fmt: skip
        with st.form(f"change{team.team_id}{face.athlete_id}"):
            name = st.text_input("Name", face.name, max_chars=100)
            stature_m, mass_kg = ask_body(face.stature_m, face.mass_kg)
            if st.form_submit_button("Keep"):
                _rename(face, name, stature_m, mass_kg)
        _agreement(face)
        typed = st.text_input(f"To delete {face.name} with all clips, type the name",
                              key=f"delete{face.athlete_id}")  # fmt: skip
        is_sure = typed.strip() == face.name
        if st.button("Delete everything about them", disabled=not is_sure,
                     key=f"deleted{face.athlete_id}"):  # fmt: skip
            _delete(face)


def _agreement(face: AthleteFace) -> None:
    """Show what was agreed to, and take down what was agreed to on paper."""
    viewer, at = viewer_now(), at_desk()
    for consent in at.desk.people.list_consents(face.athlete_id):
        who = "as parent or guardian" if consent.is_guardian else "as the athlete"
        say.note(f"Agreed: {consent.given_by}, {who}", say.moment(consent.given_at))
    with st.form(f"agreed{face.athlete_id}", clear_on_submit=True):
        st.write("Agreed on paper, where the athlete has no account:")
        st.caption(say.plain(CONSENT_WORDING))
        given_by = st.text_input("Who agreed", max_chars=100)
        is_guardian = st.checkbox("as parent or guardian of somebody under 18")
        if not st.form_submit_button("Keep the agreement"):
            return
    if not at.desk.people.may_see(viewer, face.athlete_id):
        not_yours()
    try:
        at.desk.people.keep_consent(
            face.athlete_id, given_by=given_by, is_guardian=is_guardian, wording=CONSENT_WORDING,
            now=now(),
        )  # fmt: skip
    except (ValueError, HistoryFailed):
        st.error("Say who agreed.")
        return
    st.rerun()


def _rename(
    face: AthleteFace, name: str, stature_m: float | None, mass_kg: float | None
) -> None:
    viewer, at = viewer_now(), at_desk()
    if not at.desk.people.may_see(viewer, face.athlete_id):
        not_yours()
    try:
        at.desk.people.rename_athlete(face.athlete_id, name, stature_m=stature_m)
        at.desk.people.keep_body(face.athlete_id, stature_m=stature_m, mass_kg=mass_kg)
    except (ValueError, HistoryFailed) as error:
        st.error(say.plain(str(error)))
        return
    st.rerun()


def _delete(face: AthleteFace) -> None:
    from app.web.leaving import delete_everything

    viewer, at = viewer_now(), at_desk()
    if not at.desk.people.may_see(viewer, face.athlete_id):
        not_yours()
    delete_everything(at, face.athlete_id)
    st.rerun()


def _new_team() -> None:
    with st.expander("Another team"), st.form("team", clear_on_submit=True):
        name = st.text_input("Team’s name", max_chars=100)
        if st.form_submit_button("Make it"):
            try:
                at_desk().desk.people.add_team(viewer_now(), name, now=now())
            except (ValueError, HistoryFailed) as error:
                st.error(say.plain(str(error)))
            else:
                st.rerun()
