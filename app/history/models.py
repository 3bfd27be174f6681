"""The tables of the history. Rows are not domain values: ``mapping`` turns one into the other.

Only portable column types, so that one set of migrations serves every database. Physical
columns are named exactly as in the report, unit included.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import (
    JSON,
    DateTime,
    Dialect,
    Double,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    MetaData,
    String,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

NAMING = {
    "ix": "ix_%(column_0_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint has a name, so that a later migration can change it on any database."""


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC. Takes only values that know their zone; gives them back in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment into UTC for the database."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"datetime: expected one with a time zone, got {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give a stored moment its zone back (SQLite keeps none)."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """The common ground of all tables."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map = {  # noqa: RUF012
        datetime: UtcDateTime,
        float: Double,
        dict[str, Any]: JSON,
    }


class Athlete(Base):
    """A person whose jumps are kept."""

    __tablename__ = "athlete"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(100))
    name_key: Mapped[str] = mapped_column(String(300), unique=True)
    """The name without regard to case, so that one person isn't kept twice."""
    stature_m: Mapped[float | None]
    created_at: Mapped[datetime]


class TrainingSession(Base):
    """One athlete's one day of training."""

    __tablename__ = "training_session"
    __table_args__ = (
        UniqueConstraint("athlete_id", "on_date"),
        UniqueConstraint("id", "athlete_id"),
        Index("ix_training_session_on_date", "on_date"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int] = mapped_column(ForeignKey("athlete.id", ondelete="CASCADE"))
    on_date: Mapped[date]
    athlete: Mapped[Athlete] = relationship(lazy="raise")


class Clip(Base):
    """One filmed file of one athlete, known by its content."""

    __tablename__ = "clip"
    __table_args__ = (
        UniqueConstraint("athlete_id", "sha256"),
        # Both columns together, so that a clip can't stand in another athlete's session.
        ForeignKeyConstraint(
            ["session_id", "athlete_id"],
            ["training_session.id", "training_session.athlete_id"],
            ondelete="CASCADE",
        ),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int]
    session_id: Mapped[int] = mapped_column(index=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    file_name: Mapped[str] = mapped_column(String(255))
    recorded_at: Mapped[datetime | None]
    """When the file says it was filmed."""
    added_at: Mapped[datetime]
    session: Mapped[TrainingSession] = relationship(lazy="raise")
    results: Mapped[list[Result]] = relationship(
        back_populates="clip", order_by="Result.id", lazy="raise", passive_deletes=True
    )


class Result(Base):
    """What one analysis of a clip gave. Old ones stay; the newest of a clip is the current one."""

    __tablename__ = "result"

    id: Mapped[int] = mapped_column(primary_key=True)
    clip_id: Mapped[int] = mapped_column(ForeignKey("clip.id", ondelete="CASCADE"), index=True)
    flightmark_version: Mapped[str] = mapped_column(String(50))
    pose_model: Mapped[str] = mapped_column(String(200))
    settings_sha256: Mapped[str] = mapped_column(String(64))
    exercise: Mapped[str | None] = mapped_column(String(50))
    report: Mapped[dict[str, Any]]
    """The whole report, in the form that its ``schema`` names."""
    request: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    """What was said about the clip when it was measured, where that is known."""
    request_sha256: Mapped[str | None] = mapped_column(String(64))
    track_sha256: Mapped[str | None] = mapped_column(String(64))
    """Name of the kept body track in the store, by its content."""
    created_at: Mapped[datetime]
    clip: Mapped[Clip] = relationship(back_populates="results", lazy="raise")
    jumps: Mapped[list[Jump]] = relationship(
        order_by="Jump.number", lazy="raise", passive_deletes=True
    )
    sprint: Mapped[Sprint | None] = relationship(lazy="raise", passive_deletes=True)


class Jump(Base):
    """One flight of a result, for querying; names and units as in the report."""

    __tablename__ = "jump"
    __table_args__ = (UniqueConstraint("result_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    result_id: Mapped[int] = mapped_column(ForeignKey("result.id", ondelete="CASCADE"))
    number: Mapped[int]
    """Place in the clip, from 1."""
    take_off_s: Mapped[float]
    take_off_sigma_s: Mapped[float]
    landing_s: Mapped[float]
    landing_sigma_s: Mapped[float]
    flight_time_s: Mapped[float]
    flight_time_sigma_s: Mapped[float]
    height_m: Mapped[float]
    height_sigma_m: Mapped[float]
    height_com_m: Mapped[float | None]
    height_com_sigma_m: Mapped[float | None]
    height_standing_m: Mapped[float | None]
    height_standing_sigma_m: Mapped[float | None]
    contact_time_s: Mapped[float | None]
    contact_time_sigma_s: Mapped[float | None]
    rsi_mps: Mapped[float | None]
    rsi_sigma_mps: Mapped[float | None]
    take_off_side: Mapped[str] = mapped_column(String(5))
    landing_side: Mapped[str] = mapped_column(String(5))
    turn_deg: Mapped[float | None]
    turn_sigma_deg: Mapped[float | None]


class Sprint(Base):
    """The run of a result, for querying; names and units as in the report."""

    __tablename__ = "sprint"

    result_id: Mapped[int] = mapped_column(
        ForeignKey("result.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    start_rule: Mapped[str] = mapped_column(String(100))
    surface: Mapped[str] = mapped_column(String(50))
    slope_pct: Mapped[float]
    max_speed_mps: Mapped[float | None]
    max_speed_sigma_mps: Mapped[float | None]
    splits: Mapped[list[Split]] = relationship(
        order_by="Split.number", lazy="raise", passive_deletes=True
    )


class Split(Base):
    """Time from one mark of a run to the next."""

    __tablename__ = "split"
    __table_args__ = (UniqueConstraint("result_id", "number"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    result_id: Mapped[int] = mapped_column(ForeignKey("sprint.result_id", ondelete="CASCADE"))
    number: Mapped[int]
    """Place in the run, from 1."""
    from_m: Mapped[float | None]
    """None for the split from the start."""
    to_m: Mapped[float]
    time_s: Mapped[float]
    time_sigma_s: Mapped[float]


class Unmeasured(Base):
    """A clip that gave no number when it was measured, and why: it isn't tried again in vain."""

    __tablename__ = "unmeasured"
    __table_args__ = (
        UniqueConstraint(
            "athlete_id", "clip_sha256", "request_sha256", "flightmark_version", "pose_model",
            "settings_sha256", name="uq_unmeasured_clip_request_versions",
        ),
    )  # fmt: skip

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int] = mapped_column(ForeignKey("athlete.id", ondelete="CASCADE"))
    clip_sha256: Mapped[str] = mapped_column(String(64))
    file_name: Mapped[str] = mapped_column(String(255))
    request_sha256: Mapped[str] = mapped_column(String(64))
    flightmark_version: Mapped[str] = mapped_column(String(50))
    pose_model: Mapped[str] = mapped_column(String(200))
    settings_sha256: Mapped[str] = mapped_column(String(64))
    reason: Mapped[str] = mapped_column(Text)
    created_at: Mapped[datetime]


class OtherReading(Base):
    """A number that was measured by other means than film; apart from results on purpose."""

    __tablename__ = "other_reading"
    __table_args__ = (
        UniqueConstraint("session_id", "reading_sha256"),
        ForeignKeyConstraint(
            ["session_id", "athlete_id"],
            ["training_session.id", "training_session.athlete_id"],
            ondelete="CASCADE",
        ),
        Index("ix_other_reading_athlete_id", "athlete_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    athlete_id: Mapped[int]
    session_id: Mapped[int]
    method: Mapped[str] = mapped_column(String(50))
    """How it was measured: stopwatch, tape, mat, gates …"""
    exercise: Mapped[str | None] = mapped_column(String(50))
    side: Mapped[str] = mapped_column(String(5))
    quantity: Mapped[str] = mapped_column(String(50))
    """Name with its unit, as in the report: ``height_m``, ``time_s`` …"""
    from_m: Mapped[float | None]
    to_m: Mapped[float | None]
    start_rule: Mapped[str | None] = mapped_column(String(100))
    value: Mapped[float]
    sigma: Mapped[float | None]
    """None where nobody knows it."""
    note: Mapped[str | None] = mapped_column(Text)
    reading_sha256: Mapped[str] = mapped_column(String(64))
    """Of the line it came from, so that the same file twice adds nothing."""
    imported_at: Mapped[datetime]


class HistoryFact(Base):
    """What the history knows about itself."""

    __tablename__ = "history_fact"

    name: Mapped[str] = mapped_column(String(50), primary_key=True)
    value: Mapped[str] = mapped_column(String(200))
