"""Tables of what people do with clips: jobs, verdicts, notes, events moved by hand, places."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column

from app.history.models import Base


class ClipJob(Base):
    """An uploaded clip on its way to a result, and what came of it."""

    __tablename__ = "clip_job"
    __table_args__ = (UniqueConstraint("athlete_id", "clip_sha256"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int] = mapped_column(ForeignKey("athlete.id", ondelete="CASCADE"))
    clip_sha256: Mapped[str] = mapped_column(String(64), index=True)
    file_name: Mapped[str] = mapped_column(String(255))
    suffix: Mapped[str] = mapped_column(String(10))
    exercise: Mapped[str | None] = mapped_column(String(50))
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id", ondelete="SET NULL"))
    start_foot: Mapped[str | None] = mapped_column(String(5))
    """Foot in front at the start of a run, as its sender says."""
    uploaded_at: Mapped[datetime]
    status: Mapped[str] = mapped_column(String(10), index=True)
    """``waiting``, ``running``, ``done``, ``refused``, ``failed`` or ``cancelled``."""
    step: Mapped[str | None] = mapped_column(String(50))
    part: Mapped[float] = mapped_column(default=0.0)
    attempt: Mapped[int] = mapped_column(default=0)
    claim: Mapped[str | None] = mapped_column(String(32), index=True)
    """Secret of whoever measures it now; news of an earlier claim is not listened to."""
    server: Mapped[str | None] = mapped_column(String(120))
    """Which server has it measured."""
    beat_at: Mapped[datetime | None]
    """When that server last said that it is still there."""
    message: Mapped[str | None] = mapped_column(String(1000))
    """What was seen, where it did not end in a result."""
    hint: Mapped[str | None] = mapped_column(String(1000))
    result_id: Mapped[int | None] = mapped_column(
        ForeignKey("result.id", ondelete="SET NULL"), index=True
    )
    finished_at: Mapped[datetime | None]
    is_seen: Mapped[bool] = mapped_column(default=False, server_default=false())
    """Whether a coach has looked at it after it ended without numbers."""


class Verdict(Base):
    """A coach's word on one repetition; the newest counts, all are kept."""

    __tablename__ = "verdict"

    id: Mapped[int] = mapped_column(primary_key=True)
    clip_id: Mapped[int] = mapped_column(ForeignKey("clip.id", ondelete="CASCADE"), index=True)
    jump_number: Mapped[int]
    """Place of the jump in the clip, from 1; 0 for the run or the whole clip."""
    is_accepted: Mapped[bool]
    reason: Mapped[str] = mapped_column(String(500))
    by_name: Mapped[str] = mapped_column(String(100))
    given_at: Mapped[datetime]


class Note(Base):
    """A word from a coach to an athlete about a clip."""

    __tablename__ = "note"

    id: Mapped[int] = mapped_column(primary_key=True)
    clip_id: Mapped[int] = mapped_column(ForeignKey("clip.id", ondelete="CASCADE"), index=True)
    text: Mapped[str] = mapped_column(String(2000))
    by_name: Mapped[str] = mapped_column(String(100))
    written_at: Mapped[datetime]


class MovedEvent(Base):
    """An event set by hand on top of an analysis; taken back, it stays as a record."""

    __tablename__ = "moved_event"

    id: Mapped[int] = mapped_column(primary_key=True)
    base_result_id: Mapped[int] = mapped_column(
        ForeignKey("result.id", ondelete="CASCADE"), index=True
    )
    """The analysis whose event was moved."""
    event: Mapped[str] = mapped_column(String(50))
    """Such as ``take_off:1``, ``landing:2``, ``start``, ``crossing:3``."""
    from_s: Mapped[float]
    to_s: Mapped[float]
    sigma_s: Mapped[float]
    why: Mapped[str] = mapped_column(String(500))
    by_name: Mapped[str] = mapped_column(String(100))
    moved_at: Mapped[datetime]
    undone_by: Mapped[str | None] = mapped_column(String(100))
    undone_at: Mapped[datetime | None]


class Revision(Base):
    """Marks a result as an analysis with moved events, and says which analysis."""

    __tablename__ = "revision"

    result_id: Mapped[int] = mapped_column(
        ForeignKey("result.id", ondelete="CASCADE"), primary_key=True
    )
    base_result_id: Mapped[int] = mapped_column(
        ForeignKey("result.id", ondelete="CASCADE"), index=True
    )


class Place(Base):
    """A lane or reference length marked once and used again."""

    __tablename__ = "place"
    __table_args__ = (UniqueConstraint("team_id", "name_key"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    team_id: Mapped[int] = mapped_column(ForeignKey("team.id", ondelete="CASCADE"))
    name: Mapped[str] = mapped_column(String(100))
    name_key: Mapped[str] = mapped_column(String(300))
    setup: Mapped[dict[str, Any]]
    """The lane file's content, or ``{"reference": …}``."""
    saved_at: Mapped[datetime]
