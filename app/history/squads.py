"""Teams and their athletes, and who may see whom."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session

from app.accounts.people import (
    Viewer,
)
from app.history.accounts_models import (
    Account,
    AthleteFacts,
    Consent,
    Team,
    TeamAthlete,
    TeamCoach,
)
from app.history.models import Athlete, Clip, Result
from app.history.people_rows import check_free, check_team, new_athlete, team_row
from app.history.transactions import Transactions
from app.names import name_key, tidy_name


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
    mass_kg: float | None


@dataclass(frozen=True)
class ConsentRecord:
    """An agreement that was given."""

    given_by: str
    is_guardian: bool
    wording: str
    given_at: datetime


class Squads:
    """Teams and athletes.

    Parameters
    ----------
    transactions : Transactions
    """

    def __init__(self, transactions: Transactions) -> None:
        self._at = transactions

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
            row = team_row(session, name, now=now)
            session.add(TeamCoach(team_id=row.id, account_id=viewer.account_id))
            return row.id

        return self._at.write(act)

    def list_athletes(self, viewer: Viewer, *, team_id: int | None = None) -> list[AthleteFace]:
        """Give the athletes that the viewer may see, by name."""
        query = (
            select(Athlete.id, Athlete.name, Athlete.stature_m, Account.id.is_not(None),
                   AthleteFacts.born_on, AthleteFacts.sex, AthleteFacts.mass_kg)
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
        check_team(viewer, team_id)

        def act(session: Session) -> int:
            row = new_athlete(session, name, stature_m=stature_m, now=now)
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
            check_free(session, name, athlete_id=athlete_id)
            row.name, row.name_key, row.stature_m = tidy_name(name), name_key(name), stature_m

        self._at.write(act)

    def keep_body(
        self, athlete_id: int, *, stature_m: float | None, mass_kg: float | None
    ) -> None:
        """Keep what later clips of an athlete are measured with."""

        def act(session: Session) -> None:
            session.get_one(Athlete, athlete_id).stature_m = stature_m
            facts = session.get(AthleteFacts, athlete_id) or AthleteFacts(athlete_id=athlete_id)
            facts.mass_kg = mass_kg
            session.add(facts)

        self._at.write(act)

    def list_clip_hashes(self, athlete_id: int) -> list[str]:
        """Give the contents of an athlete's clips that no other athlete has too."""
        from app.history.review_models import ClipJob

        places = (Clip.athlete_id, Clip.sha256), (ClipJob.athlete_id, ClipJob.clip_sha256)

        def act(session: Session) -> list[str]:
            mine: set[str] = set()
            for owner, content in places:
                mine.update(session.scalars(select(content).where(owner == athlete_id)))
            theirs: set[str] = set()
            for owner, content in places:
                shared = select(content).where(owner != athlete_id, content.in_(mine))
                theirs.update(session.scalars(shared))
            return sorted(mine - theirs)

        return self._at.read(act)

    def list_track_hashes(self, athlete_id: int) -> list[str]:
        """Give the body tracks of an athlete's results that no other athlete's result has too."""

        def act(session: Session) -> list[str]:
            tracks = select(Result.track_sha256).join(Clip, Clip.id == Result.clip_id)
            mine = set(session.scalars(tracks.where(Clip.athlete_id == athlete_id)))
            theirs = tracks.where(Clip.athlete_id != athlete_id, Result.track_sha256.in_(mine))
            return sorted((mine - set(session.scalars(theirs))) - {None})

        return self._at.read(act)

    def delete_athlete(self, athlete_id: int) -> None:
        """Delete everything about an athlete from the database; files are the caller's."""
        self._at.write(lambda s: s.execute(delete(Athlete).where(Athlete.id == athlete_id)))

    def keep_consent(
        self, athlete_id: int, *, given_by: str, is_guardian: bool, wording: str, now: datetime
    ) -> None:
        """Keep an agreement that was given on paper.

        Raises
        ------
        ValueError
            Nobody is named.
        """
        row = Consent(athlete_id=athlete_id, given_by=tidy_name(given_by), is_guardian=is_guardian)
        row.wording, row.given_at = wording, now
        self._at.write(lambda s: s.add(row))

    def list_consents(self, athlete_id: int) -> list[ConsentRecord]:
        """Give what was agreed to, oldest first."""
        query = select(Consent).where(Consent.athlete_id == athlete_id).order_by(Consent.id)
        return self._at.read(
            lambda s: [
                ConsentRecord(row.given_by, row.is_guardian, row.wording, row.given_at)
                for row in s.scalars(query)
            ]
        )
