"""Tables of people and what they may see: teams, accounts, sessions, invitations, consent."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from app.history.models import Base


class Team(Base):
    """A group of athletes with its coaches."""

    __tablename__ = "team"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(100))
    name_key: Mapped[str] = mapped_column(String(300), unique=True)
    created_at: Mapped[datetime]


class TeamAthlete(Base):
    """An athlete's place in a team."""

    __tablename__ = "team_athlete"

    team_id: Mapped[int] = mapped_column(
        ForeignKey("team.id", ondelete="CASCADE"), primary_key=True
    )
    athlete_id: Mapped[int] = mapped_column(
        ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True, index=True
    )


class Account(Base):
    """Somebody who can sign in: a coach, or one athlete."""

    __tablename__ = "account"

    id: Mapped[int] = mapped_column(primary_key=True)
    sign_in_name: Mapped[str] = mapped_column(String(200))
    sign_in_key: Mapped[str] = mapped_column(String(600), unique=True)
    """The sign-in name without regard to case."""
    shown_name: Mapped[str] = mapped_column(String(100))
    role: Mapped[str] = mapped_column(String(10))
    """``coach`` or ``athlete``."""
    password_hash: Mapped[str] = mapped_column(String(300))
    athlete_id: Mapped[int | None] = mapped_column(
        ForeignKey("athlete.id", ondelete="CASCADE"), unique=True
    )
    uses_inches: Mapped[bool] = mapped_column(default=False)
    uses_yards: Mapped[bool] = mapped_column(default=False)
    created_at: Mapped[datetime]


class TeamCoach(Base):
    """A coach's right to a team."""

    __tablename__ = "team_coach"

    team_id: Mapped[int] = mapped_column(
        ForeignKey("team.id", ondelete="CASCADE"), primary_key=True
    )
    account_id: Mapped[int] = mapped_column(
        ForeignKey("account.id", ondelete="CASCADE"), primary_key=True, index=True
    )


class SignIn(Base):
    """One signed-in browser. Only a digest of its cookie is kept."""

    __tablename__ = "sign_in"

    token_sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    account_id: Mapped[int] = mapped_column(
        ForeignKey("account.id", ondelete="CASCADE"), index=True
    )
    created_at: Mapped[datetime]
    expires_at: Mapped[datetime]


class SignInTry(Base):
    """A failed sign-in, kept for as long as it counts against guessing."""

    __tablename__ = "sign_in_try"
    __table_args__ = (Index("ix_sign_in_try_against_at", "against", "tried_at"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    against: Mapped[str] = mapped_column(String(64))
    """Digest of a sign-in name or of a network address."""
    tried_at: Mapped[datetime]


class Invitation(Base):
    """A one-time link into a team."""

    __tablename__ = "invitation"

    token_sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    team_id: Mapped[int] = mapped_column(ForeignKey("team.id", ondelete="CASCADE"), index=True)
    role: Mapped[str] = mapped_column(String(10))
    athlete_id: Mapped[int | None] = mapped_column(ForeignKey("athlete.id", ondelete="CASCADE"))
    """Whose history the link opens; a new athlete is made where None."""
    invited_by: Mapped[int | None] = mapped_column(ForeignKey("account.id", ondelete="SET NULL"))
    expires_at: Mapped[datetime]
    used_at: Mapped[datetime | None]


class Consent(Base):
    """What an athlete, or a minor's guardian, agreed to, and when."""

    __tablename__ = "consent"

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int] = mapped_column(
        ForeignKey("athlete.id", ondelete="CASCADE"), index=True
    )
    given_by: Mapped[str] = mapped_column(String(100))
    is_guardian: Mapped[bool]
    wording: Mapped[str] = mapped_column(String(2000))
    given_at: Mapped[datetime]


class AthleteFacts(Base):
    """What else is known of an athlete."""

    __tablename__ = "athlete_facts"

    athlete_id: Mapped[int] = mapped_column(
        ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True
    )
    born_on: Mapped[date | None]
    sex: Mapped[str | None] = mapped_column(String(10))
    mass_kg: Mapped[float | None]
    """As last said; every result says for which mass it holds."""
