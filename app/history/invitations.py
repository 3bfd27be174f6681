"""One-time links into a team."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.accounts.people import (
    CONSENT_WORDING,
    NewPerson,
    Role,
    Viewer,
    check_joining,
    is_minor,
)
from app.accounts.secrets import digest, hash_password, new_token
from app.history.accounts_models import (
    Account,
    AthleteFacts,
    Consent,
    Invitation,
    Team,
    TeamAthlete,
    TeamCoach,
)
from app.history.models import Athlete
from app.history.people_rows import Taken, account_row, check_team, new_athlete, open_sign_in
from app.history.transactions import Transactions
from app.names import tidy_name

INVITATION_LASTS = timedelta(days=14)


@dataclass(frozen=True)
class InvitationRecord:
    """What a one-time link opens."""

    team_name: str
    role: Role
    athlete_name: str | None


class Invitations:
    """One-time links.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    def invite(
        self, viewer: Viewer, *, team_id: int, role: Role, athlete_id: int | None, now: datetime
    ) -> str:
        """Give the secret of a one-time link into a team."""
        check_team(viewer, team_id)
        token = new_token()
        row = Invitation(
            token_sha256=digest(token), team_id=team_id, role=role, athlete_id=athlete_id,
            invited_by=viewer.account_id, expires_at=now + INVITATION_LASTS,
        )  # fmt: skip
        self._at.write(lambda s: s.add(row))
        return token

    def find_invitation(self, token: str, *, now: datetime) -> InvitationRecord | None:
        """Give what a link opens, None where it opens nothing any more."""

        def act(session: Session) -> InvitationRecord | None:
            row = _open_invitation(session, token, now=now)
            if row is None:
                return None
            athlete = row.athlete_id and session.get(Athlete, row.athlete_id)
            role: Role = "coach" if row.role == "coach" else "athlete"
            name = athlete.name if athlete else None
            return InvitationRecord(session.get_one(Team, row.team_id).name, role, name)

        return self._at.read(act)

    def join(self, token: str, person: NewPerson, *, now: datetime) -> str:
        """Use a link up and give the cookie of the new account.

        Raises
        ------
        ValueError
            In words for the person.
        Taken
            The link is used up, or the name is somebody else's.
        """
        password_hash = hash_password(person.password)

        def act(session: Session) -> str:
            row = _open_invitation(session, token, now=now)
            if row is None:
                raise Taken("This link is used up or too old.", "Ask your coach for a new one.")
            role: Role = "coach" if row.role == "coach" else "athlete"
            check_joining(person, role=role, today=now.date())
            account = account_row(session, person, role, password_hash, now=now)
            if role == "coach":
                session.add(TeamCoach(team_id=row.team_id, account_id=account.id))
            else:
                account.athlete_id = _joining_athlete(session, row, person, now=now)
            row.used_at = now
            return open_sign_in(session, account.id, now=now)

        return self._at.write(act)


def _open_invitation(session: Session, token: str, *, now: datetime) -> Invitation | None:
    row = session.get(Invitation, digest(token))
    is_open = row is not None and row.used_at is None and row.expires_at > now
    return row if is_open else None


def _joining_athlete(session: Session, row: Invitation, person: NewPerson, *, now: datetime) -> int:
    if row.athlete_id is None:
        athlete = new_athlete(session, person.name, stature_m=person.stature_m, now=now)
    else:
        athlete = session.get_one(Athlete, row.athlete_id)
        taken = select(Account.id).where(Account.athlete_id == athlete.id)
        if session.scalar(taken) is not None:
            raise Taken("This athlete has an account already.", "Sign in with it.")
        athlete.stature_m = person.stature_m or athlete.stature_m
    if session.get(TeamAthlete, (row.team_id, athlete.id)) is None:
        session.add(TeamAthlete(team_id=row.team_id, athlete_id=athlete.id))
    facts = session.get(AthleteFacts, athlete.id) or AthleteFacts(athlete_id=athlete.id)
    facts.born_on, facts.sex = person.born_on, person.sex
    facts.mass_kg = person.mass_kg or facts.mass_kg
    session.add(facts)
    _keep_consent(session, athlete.id, person, now=now)
    return athlete.id


def _keep_consent(session: Session, athlete_id: int, person: NewPerson, *, now: datetime) -> None:
    givers = [(tidy_name(person.name), False)]
    if person.born_on is not None and is_minor(person.born_on, today=now.date()):
        givers.append((tidy_name(person.guardian), True))
    for name, is_guardian in givers:
        row = Consent(athlete_id=athlete_id, given_by=name, is_guardian=is_guardian)
        row.wording, row.given_at = CONSENT_WORDING, now
        session.add(row)
