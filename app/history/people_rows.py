"""Rows of people that several acts make, and what refuses them."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.accounts.people import (
    NewPerson,
    Role,
    Viewer,
    tidy_sign_in_name,
)
from app.accounts.secrets import digest, new_token
from app.errors import HistoryFailed
from app.history.accounts_models import (
    Account,
    SignIn,
    Team,
)
from app.history.models import Athlete
from app.names import name_key, tidy_name

SIGN_IN_LASTS = timedelta(days=30)


class TooManyTries(HistoryFailed):
    """Sign-in was tried too often; even the right password waits now."""


class Taken(HistoryFailed):
    """A name or a link that is already used."""


def key_of(name: str) -> str:
    """Give a sign-in name's key; nothing for what is no name."""
    try:
        return name_key(name)
    except ValueError:
        return ""


def check_team(viewer: Viewer, team_id: int) -> None:
    """Make sure that a coach has a team.

    Raises
    ------
    PermissionError
        They have not.
    """
    if not viewer.is_coach or team_id not in viewer.team_ids:
        raise PermissionError("team")


def team_row(session: Session, name: str, *, now: datetime) -> Team:
    """Make a team."""
    if session.scalar(select(Team).where(Team.name_key == name_key(name))) is not None:
        raise Taken("There is already a team of that name.", "Choose another name.")
    row = Team(name=tidy_name(name), name_key=name_key(name), created_at=now)
    session.add(row)
    session.flush()
    return row


def account_row(
    session: Session, person: NewPerson, role: Role, password_hash: str, *, now: datetime
) -> Account:
    """Make an account."""
    sign_in_name = tidy_sign_in_name(person.sign_in_name)
    key = name_key(sign_in_name)
    if session.scalar(select(Account.id).where(Account.sign_in_key == key)) is not None:
        raise Taken("That sign-in name is somebody's already.", "Choose another one.")
    row = Account(
        sign_in_name=sign_in_name, sign_in_key=key, shown_name=tidy_name(person.name), role=role,
        password_hash=password_hash, created_at=now,
    )  # fmt: skip
    session.add(row)
    session.flush()
    return row


def check_free(session: Session, name: str, *, athlete_id: int | None) -> None:
    """Make sure that no other athlete has a name."""
    other = session.scalar(select(Athlete.id).where(Athlete.name_key == name_key(name)))
    if other is not None and other != athlete_id:
        raise Taken(
            "There is already an athlete of that name.",
            "Add a letter or a second name, so that the two can be told apart.",
        )


def new_athlete(session: Session, name: str, *, stature_m: float | None, now: datetime) -> Athlete:
    """Make an athlete."""
    check_free(session, name, athlete_id=None)
    row = Athlete(
        name=tidy_name(name), name_key=name_key(name), stature_m=stature_m, created_at=now
    )
    session.add(row)
    session.flush()
    return row


def open_sign_in(session: Session, account_id: int, *, now: datetime) -> str:
    """Open a session and give its cookie."""
    session.execute(delete(SignIn).where(SignIn.expires_at < now))
    token = new_token()
    ends = now + SIGN_IN_LASTS
    session.add(
        SignIn(token_sha256=digest(token), account_id=account_id, created_at=now, expires_at=ends)
    )
    return token
