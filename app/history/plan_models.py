"""Tables of the plan: sessions on days, and their entries in order."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.history.models import Base


class PlannedSession(Base):
    """What a team does on one day."""

    __tablename__ = "planned_session"
    __table_args__ = (UniqueConstraint("team_id", "on_date"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    team_id: Mapped[int] = mapped_column(ForeignKey("team.id", ondelete="CASCADE"))
    on_date: Mapped[date]
    title: Mapped[str] = mapped_column(String(100))


class PlannedEntry(Base):
    """One exercise of a planned session, measured or only ticked off."""

    __tablename__ = "planned_entry"

    id: Mapped[int] = mapped_column(primary_key=True)
    session_id: Mapped[int] = mapped_column(
        ForeignKey("planned_session.id", ondelete="CASCADE"), index=True
    )
    place: Mapped[int]
    """Order in the session, from 1."""
    pair: Mapped[str] = mapped_column(String(5), default="")
    """Entries with the same letter are done together."""
    exercise: Mapped[str | None] = mapped_column(String(50))
    """Key of a filmed exercise; None for what is only ticked off."""
    text: Mapped[str] = mapped_column(String(200))
    sets: Mapped[int] = mapped_column(default=1)
    repetitions: Mapped[int] = mapped_column(default=1)
    is_each_side: Mapped[bool] = mapped_column(default=False)
    rest_s: Mapped[float | None]
    pause_s: Mapped[float | None]
    target: Mapped[str] = mapped_column(String(100), default="")


class TickedEntry(Base):
    """An athlete's word that an entry was done."""

    __tablename__ = "ticked_entry"

    entry_id: Mapped[int] = mapped_column(
        ForeignKey("planned_entry.id", ondelete="CASCADE"), primary_key=True
    )
    athlete_id: Mapped[int] = mapped_column(
        ForeignKey("athlete.id", ondelete="CASCADE"), primary_key=True, index=True
    )
    ticked_at: Mapped[datetime]
