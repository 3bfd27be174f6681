"""Accounts: the first one, signing in and out, whose cookie it is."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.accounts.people import (
    NewPerson,
    Viewer,
    check_joining,
)
from app.accounts.secrets import digest, hash_password, is_password
from app.history.accounts_models import (
    Account,
    SignIn,
    SignInTry,
    TeamAthlete,
    TeamCoach,
)
from app.history.models import Athlete
from app.history.people_rows import (
    Taken,
    TooManyTries,
    account_row,
    key_of,
    open_sign_in,
    team_row,
)
from app.history.transactions import Transactions

TRY_WINDOW = timedelta(minutes=15)
TRIES_BY_NAME = 8
TRIES_BY_ADDRESS = 40


class SignIns:
    """Accounts and their open sessions.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

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
            row = team_row(session, team, now=now)
            account = account_row(session, person, "coach", password_hash, now=now)
            session.add(TeamCoach(team_id=row.id, account_id=account.id))
            for athlete_id in session.scalars(select(Athlete.id)):
                session.add(TeamAthlete(team_id=row.id, athlete_id=athlete_id))
            return open_sign_in(session, account.id, now=now)

        return self._at.write(act)

    def sign_in(self, name: str, password: str, *, address: str, now: datetime) -> str | None:
        """Give a cookie for a right name and password, None for a wrong one.

        Raises
        ------
        TooManyTries
            Too many wrong tries for this name or from this address.
        """
        keys = (digest(f"name {key_of(name)}"), digest(f"address {address}"))
        kept = self._at.write(lambda s: _check_tries(s, keys, name=name, now=now))
        account_id, password_hash = kept or (None, None)
        if not is_password(password, password_hash) or account_id is None:
            return None

        def act(session: Session) -> str:
            session.execute(delete(SignInTry).where(SignInTry.against == keys[0]))
            return open_sign_in(session, account_id, now=now)

        return self._at.write(act)

    def sign_in_known(self, name: str, *, now: datetime) -> str | None:
        """Give a cookie to whom somebody else has vouched for; None where nobody is called so."""

        def act(session: Session) -> str | None:
            named = select(Account.id).where(Account.sign_in_key == key_of(name))
            account_id = session.scalar(named)
            return None if account_id is None else open_sign_in(session, account_id, now=now)

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
    row = session.scalar(select(Account).where(Account.sign_in_key == key_of(name)))
    return None if row is None else (row.id, row.password_hash)
