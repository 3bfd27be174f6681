"""Teams, accounts and the rights between them: who may see whom, asked of the database."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.accounts.people import (
    CONSENT_WORDING,
    NewPerson,
    Role,
    Viewer,
    check_joining,
    is_minor,
    tidy_sign_in_name,
)
from app.accounts.secrets import digest, hash_password, is_password, new_token
from app.errors import HistoryFailed
from app.history.accounts_models import (
    Account,
    AthleteFacts,
    Consent,
    Invitation,
    SignIn,
    SignInTry,
    Team,
    TeamAthlete,
    TeamCoach,
)
from app.history.models import Athlete, Clip
from app.history.transactions import Transactions
from app.names import name_key, tidy_name

SIGN_IN_LASTS = timedelta(days=30)
INVITATION_LASTS = timedelta(days=14)
TRY_WINDOW = timedelta(minutes=15)
TRIES_BY_NAME = 8
TRIES_BY_ADDRESS = 40


class TooManyTries(HistoryFailed):
    """Sign-in was tried too often; even the right password waits now."""


class Taken(HistoryFailed):
    """A name or a link that is already used."""


@dataclass(frozen=True)
class TeamRecord:
    """A team and how many athletes it has."""

    team_id: int
    name: str
    athlete_count: int


@dataclass(frozen=True)
class AthleteFace:
    """An athlete as a page lists them."""

    athlete_id: int
    name: str
    stature_m: float | None
    has_account: bool
    born_on: date | None
    sex: str | None


@dataclass(frozen=True)
class InvitationRecord:
    """What a one-time link opens."""

    team_name: str
    role: Role
    athlete_name: str | None


@dataclass(frozen=True)
class ConsentRecord:
    """An agreement that was given."""

    given_by: str
    is_guardian: bool
    wording: str
    given_at: datetime


class People:
    """The accounts of a history.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

    # who is there ------------------------------------------------------------------------

    def has_accounts(self) -> bool:
        """Tell whether anybody can sign in yet."""
        return self._at.read(lambda s: s.scalar(select(Account.id).limit(1)) is not None)

    def found_team(self, person: NewPerson, *, team: str, now: datetime) -> str:
        """Make the first coach with a team that holds every athlete kept so far.

        Returns
        -------
        str
            The cookie of the signed-in browser.

        Raises
        ------
        ValueError
            In words for the person.
        Taken
            Somebody was quicker.
        """
        check_joining(person, role="coach", today=now.date())
        password_hash = hash_password(person.password)

        def act(session: Session) -> str:
            if session.scalar(select(Account.id).limit(1)) is not None:
                raise Taken("This place already has its coach.", "Sign in, or ask for a link.")
            row = _team_row(session, team, now=now)
            account = _account_row(session, person, "coach", password_hash, now=now)
            session.add(TeamCoach(team_id=row.id, account_id=account.id))
            for athlete_id in session.scalars(select(Athlete.id)):
                session.add(TeamAthlete(team_id=row.id, athlete_id=athlete_id))
            return _open_sign_in(session, account.id, now=now)

        return self._at.write(act)

    def sign_in(self, name: str, password: str, *, address: str, now: datetime) -> str | None:
        """Give a cookie for a right name and password, None for a wrong one.

        Raises
        ------
        TooManyTries
            Too many wrong tries for this name or from this address.
        """
        keys = (digest(f"name {_key(name)}"), digest(f"address {address}"))
        kept = self._at.write(lambda s: _check_tries(s, keys, name=name, now=now))
        account_id, password_hash = kept or (None, None)
        if not is_password(password, password_hash) or account_id is None:
            return None

        def act(session: Session) -> str:
            session.execute(delete(SignInTry).where(SignInTry.against == keys[0]))
            return _open_sign_in(session, account_id, now=now)

        return self._at.write(act)

    def find_viewer(self, token: str | None, *, now: datetime | None = None) -> Viewer | None:
        """Give whose cookie this is, looked up in the database every time."""
        if not token:
            return None
        at = now or datetime.now(UTC)

        def act(session: Session) -> Viewer | None:
            account = session.scalar(
                select(Account)
                .join(SignIn, SignIn.account_id == Account.id)
                .where(SignIn.token_sha256 == digest(token), SignIn.expires_at > at)
            )
            return None if account is None else _viewer(session, account)

        return self._at.read(act)

    def sign_out(self, token: str) -> None:
        """End one browser's session."""
        self._at.write(
            lambda s: s.execute(delete(SignIn).where(SignIn.token_sha256 == digest(token)))
        )

    def sign_out_everywhere(self, account_id: int) -> None:
        """End every session of an account."""
        self._at.write(lambda s: s.execute(delete(SignIn).where(SignIn.account_id == account_id)))

    def set_units(self, account_id: int, *, uses_inches: bool, uses_yards: bool) -> None:
        """Keep which units somebody reads."""

        def act(session: Session) -> None:
            account = session.get_one(Account, account_id)
            account.uses_inches, account.uses_yards = uses_inches, uses_yards

        self._at.write(act)

    # teams and athletes ------------------------------------------------------------------

    def list_teams(self, viewer: Viewer) -> list[TeamRecord]:
        """Give the viewer's teams by name."""
        query = (
            select(Team.id, Team.name, func.count(TeamAthlete.athlete_id))
            .outerjoin(TeamAthlete)
            .where(Team.id.in_(viewer.team_ids))
            .group_by(Team.id, Team.name, Team.name_key)
            .order_by(Team.name_key)
        )
        return self._at.read(lambda s: [TeamRecord(*row) for row in s.execute(query)])

    def add_team(self, viewer: Viewer, name: str, *, now: datetime) -> int:
        """Make another team of this coach's."""

        def act(session: Session) -> int:
            row = _team_row(session, name, now=now)
            session.add(TeamCoach(team_id=row.id, account_id=viewer.account_id))
            return row.id

        return self._at.write(act)

    def list_athletes(self, viewer: Viewer, *, team_id: int | None = None) -> list[AthleteFace]:
        """Give the athletes that the viewer may see, by name."""
        query = (
            select(Athlete.id, Athlete.name, Athlete.stature_m, Account.id.is_not(None),
                   AthleteFacts.born_on, AthleteFacts.sex)
            .outerjoin(Account, Account.athlete_id == Athlete.id)
            .outerjoin(AthleteFacts, AthleteFacts.athlete_id == Athlete.id)
            .order_by(Athlete.name_key)
        )  # fmt: skip
        if viewer.is_coach:
            teams = [t for t in viewer.team_ids if team_id in (None, t)]
            members = select(TeamAthlete.athlete_id).where(TeamAthlete.team_id.in_(teams))
            query = query.where(Athlete.id.in_(members))
        else:
            query = query.where(Athlete.id == viewer.athlete_id)
        return self._at.read(lambda s: [AthleteFace(*row) for row in s.execute(query)])

    def may_see(self, viewer: Viewer, athlete_id: int) -> bool:
        """Tell whether the viewer may see an athlete's clips and numbers."""
        if not viewer.is_coach:
            return viewer.athlete_id == athlete_id
        query = select(TeamAthlete.athlete_id).where(
            TeamAthlete.athlete_id == athlete_id, TeamAthlete.team_id.in_(viewer.team_ids)
        )
        return self._at.read(lambda s: s.scalar(query.limit(1)) is not None)

    def add_athlete(
        self, viewer: Viewer, *, team_id: int, name: str, stature_m: float | None, now: datetime
    ) -> int:
        """Make an athlete in a team of this coach's.

        Raises
        ------
        Taken
            There is already somebody of that name.
        """
        _check_team(viewer, team_id)

        def act(session: Session) -> int:
            row = _new_athlete(session, name, stature_m=stature_m, now=now)
            session.add(TeamAthlete(team_id=team_id, athlete_id=row.id))
            return row.id

        return self._at.write(act)

    def rename_athlete(self, athlete_id: int, name: str, *, stature_m: float | None) -> None:
        """Give an athlete another name or stature.

        Raises
        ------
        Taken
            There is already somebody of that name.
        """

        def act(session: Session) -> None:
            row = session.get_one(Athlete, athlete_id)
            _check_free(session, name, athlete_id=athlete_id)
            row.name, row.name_key, row.stature_m = tidy_name(name), name_key(name), stature_m

        self._at.write(act)

    def list_clip_hashes(self, athlete_id: int) -> list[str]:
        """Give the contents of an athlete's clips that no other athlete has too."""
        from app.history.review_models import ClipJob

        def act(session: Session) -> list[str]:
            mine: set[str] = set()
            theirs: set[str] = set()
            for owner, content in (
                *session.execute(select(Clip.athlete_id, Clip.sha256)).all(),
                *session.execute(select(ClipJob.athlete_id, ClipJob.clip_sha256)).all(),
            ):
                (mine if owner == athlete_id else theirs).add(content)
            return sorted(mine - theirs)

        return self._at.read(act)

    def delete_athlete(self, athlete_id: int) -> None:
        """Delete everything about an athlete from the database; files are the caller's."""
        self._at.write(lambda s: s.execute(delete(Athlete).where(Athlete.id == athlete_id)))

    def list_consents(self, athlete_id: int) -> list[ConsentRecord]:
        """Give what was agreed to, oldest first."""
        query = select(Consent).where(Consent.athlete_id == athlete_id).order_by(Consent.id)
        return self._at.read(
            lambda s: [
                ConsentRecord(row.given_by, row.is_guardian, row.wording, row.given_at)
                for row in s.scalars(query)
            ]
        )

    # invitations -------------------------------------------------------------------------

    def invite(
        self, viewer: Viewer, *, team_id: int, role: Role, athlete_id: int | None, now: datetime
    ) -> str:
        """Give the secret of a one-time link into a team."""
        _check_team(viewer, team_id)
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
            account = _account_row(session, person, role, password_hash, now=now)
            if role == "coach":
                session.add(TeamCoach(team_id=row.team_id, account_id=account.id))
            else:
                account.athlete_id = _joining_athlete(session, row, person, now=now)
            row.used_at = now
            return _open_sign_in(session, account.id, now=now)

        return self._at.write(act)


def _key(name: str) -> str:
    try:
        return name_key(name)
    except ValueError:
        return ""


def _check_team(viewer: Viewer, team_id: int) -> None:
    if not viewer.is_coach or team_id not in viewer.team_ids:
        raise PermissionError("team")


def _viewer(session: Session, account: Account) -> Viewer:
    if account.role == "coach":
        teams = select(TeamCoach.team_id).where(TeamCoach.account_id == account.id)
    else:
        teams = select(TeamAthlete.team_id).where(TeamAthlete.athlete_id == account.athlete_id)
    return Viewer(
        account.id, account.shown_name, "coach" if account.role == "coach" else "athlete",
        account.athlete_id, tuple(session.scalars(teams)), account.uses_inches, account.uses_yards,
    )  # fmt: skip


def _check_tries(
    session: Session, keys: tuple[str, str], *, name: str, now: datetime
) -> tuple[int, str] | None:
    """Count this try before the password is looked at, so that many at once count too."""
    session.execute(delete(SignInTry).where(SignInTry.tried_at < now - TRY_WINDOW))
    for key, most in zip(keys, (TRIES_BY_NAME, TRIES_BY_ADDRESS), strict=True):
        count = session.scalar(select(func.count()).where(SignInTry.against == key)) or 0
        if count >= most:
            raise TooManyTries(
                "There were too many wrong tries.",
                f"Wait {TRY_WINDOW.seconds // 60} minutes, or ask your coach for a new link.",
            )
        session.add(SignInTry(against=key, tried_at=now))
    row = session.scalar(select(Account).where(Account.sign_in_key == _key(name)))
    return None if row is None else (row.id, row.password_hash)


def _open_sign_in(session: Session, account_id: int, *, now: datetime) -> str:
    session.execute(delete(SignIn).where(SignIn.expires_at < now))
    token = new_token()
    ends = now + SIGN_IN_LASTS
    session.add(
        SignIn(token_sha256=digest(token), account_id=account_id, created_at=now, expires_at=ends)
    )
    return token


def _team_row(session: Session, name: str, *, now: datetime) -> Team:
    if session.scalar(select(Team).where(Team.name_key == name_key(name))) is not None:
        raise Taken("There is already a team of that name.", "Choose another name.")
    row = Team(name=tidy_name(name), name_key=name_key(name), created_at=now)
    session.add(row)
    session.flush()
    return row


def _account_row(
    session: Session, person: NewPerson, role: Role, password_hash: str, *, now: datetime
) -> Account:
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


def _open_invitation(session: Session, token: str, *, now: datetime) -> Invitation | None:
    row = session.get(Invitation, digest(token))
    is_open = row is not None and row.used_at is None and row.expires_at > now
    return row if is_open else None


def _check_free(session: Session, name: str, *, athlete_id: int | None) -> None:
    other = session.scalar(select(Athlete.id).where(Athlete.name_key == name_key(name)))
    if other is not None and other != athlete_id:
        raise Taken(
            "There is already an athlete of that name.",
            "Add a letter or a second name, so that the two can be told apart.",
        )


def _new_athlete(session: Session, name: str, *, stature_m: float | None, now: datetime) -> Athlete:
    _check_free(session, name, athlete_id=None)
    row = Athlete(
        name=tidy_name(name), name_key=name_key(name), stature_m=stature_m, created_at=now
    )
    session.add(row)
    session.flush()
    return row


def _joining_athlete(session: Session, row: Invitation, person: NewPerson, *, now: datetime) -> int:
    if row.athlete_id is None:
        athlete = _new_athlete(session, person.name, stature_m=person.stature_m, now=now)
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
