"""Sprints, clips without a number, readings by other means, and what a result was asked."""

import uuid

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make them."""
    op.add_column("result", sa.Column("request", sa.JSON))
    op.add_column("result", sa.Column("request_sha256", sa.String(64)))
    op.add_column("result", sa.Column("track_sha256", sa.String(64)))
    op.create_index("ix_training_session_on_date", "training_session", ["on_date"])
    _sprint()
    _unmeasured()
    _other_reading()
    fact = op.create_table(
        "history_fact",
        sa.Column("name", sa.String(50), primary_key=True),
        sa.Column("value", sa.String(200), nullable=False),
    )
    op.bulk_insert(fact, [{"name": "history_id", "value": uuid.uuid4().hex}])


def _sprint() -> None:
    op.create_table(
        "sprint",
        sa.Column("result_id", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("start_rule", sa.String(100), nullable=False),
        sa.Column("surface", sa.String(50), nullable=False),
        sa.Column("slope_pct", sa.Double, nullable=False),
        sa.Column("max_speed_mps", sa.Double),
        sa.Column("max_speed_sigma_mps", sa.Double),
        sa.ForeignKeyConstraint(["result_id"], ["result.id"], ondelete="CASCADE"),
    )
    op.create_table(
        "split",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("result_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("from_m", sa.Double),
        sa.Column("to_m", sa.Double, nullable=False),
        sa.Column("time_s", sa.Double, nullable=False),
        sa.Column("time_sigma_s", sa.Double, nullable=False),
        sa.ForeignKeyConstraint(["result_id"], ["sprint.result_id"], ondelete="CASCADE"),
        sa.UniqueConstraint("result_id", "number"),
    )


def _unmeasured() -> None:
    op.create_table(
        "unmeasured",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("clip_sha256", sa.String(64), nullable=False),
        sa.Column("file_name", sa.String(255), nullable=False),
        sa.Column("request_sha256", sa.String(64), nullable=False),
        sa.Column("flightmark_version", sa.String(50), nullable=False),
        sa.Column("pose_model", sa.String(200), nullable=False),
        sa.Column("settings_sha256", sa.String(64), nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athlete.id"], ondelete="CASCADE"),
        sa.UniqueConstraint(
            "athlete_id", "clip_sha256", "request_sha256", "flightmark_version", "pose_model",
            "settings_sha256", name="uq_unmeasured_clip_request_versions",
        ),
    )  # fmt: skip


def _other_reading() -> None:
    op.create_table(
        "other_reading",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("method", sa.String(50), nullable=False),
        sa.Column("exercise", sa.String(50)),
        sa.Column("side", sa.String(5), nullable=False),
        sa.Column("quantity", sa.String(50), nullable=False),
        sa.Column("from_m", sa.Double),
        sa.Column("to_m", sa.Double),
        sa.Column("start_rule", sa.String(100)),
        sa.Column("value", sa.Double, nullable=False),
        sa.Column("sigma", sa.Double),
        sa.Column("note", sa.Text),
        sa.Column("reading_sha256", sa.String(64), nullable=False),
        sa.Column("imported_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id", "athlete_id"],
            ["training_session.id", "training_session.athlete_id"],
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint("session_id", "reading_sha256"),
    )
    op.create_index("ix_other_reading_athlete_id", "other_reading", ["athlete_id"])
