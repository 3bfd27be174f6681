"""Athletes, training sessions, clips, results and their jumps."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "athlete",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.String(100), nullable=False),
        sa.Column("name_key", sa.String(300), nullable=False),
        sa.Column("stature_m", sa.Double),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.UniqueConstraint("name_key"),
    )
    op.create_table(
        "training_session",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("on_date", sa.Date, nullable=False),
        sa.ForeignKeyConstraint(["athlete_id"], ["athlete.id"], ondelete="CASCADE"),
        sa.UniqueConstraint("athlete_id", "on_date"),
        sa.UniqueConstraint("id", "athlete_id"),
    )
    op.create_table(
        "clip",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False, index=True),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("file_name", sa.String(255), nullable=False),
        sa.Column("recorded_at", MOMENT),
        sa.Column("added_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id", "athlete_id"],
            ["training_session.id", "training_session.athlete_id"],
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint("athlete_id", "sha256"),
    )
    op.create_table(
        "result",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("clip_id", sa.Integer, nullable=False, index=True),
        sa.Column("flightmark_version", sa.String(50), nullable=False),
        sa.Column("pose_model", sa.String(200), nullable=False),
        sa.Column("settings_sha256", sa.String(64), nullable=False),
        sa.Column("exercise", sa.String(50), index=True),
        sa.Column("report", sa.JSON, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(["clip_id"], ["clip.id"], ondelete="CASCADE"),
    )
    op.create_table(
        "jump",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("result_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        *_jump_numbers(),
        sa.Column("take_off_side", sa.String(5), nullable=False),
        sa.Column("landing_side", sa.String(5), nullable=False),
        sa.ForeignKeyConstraint(["result_id"], ["result.id"], ondelete="CASCADE"),
        sa.UniqueConstraint("result_id", "number"),
    )


def _jump_numbers() -> list[sa.Column[Any]]:
    always = (
        "take_off_s", "take_off_sigma_s", "landing_s", "landing_sigma_s",
        "flight_time_s", "flight_time_sigma_s", "height_m", "height_sigma_m",
    )  # fmt: skip
    sometimes = (
        "height_com_m", "height_com_sigma_m", "height_standing_m", "height_standing_sigma_m",
        "contact_time_s", "contact_time_sigma_s", "rsi_mps", "rsi_sigma_mps",
        "turn_deg", "turn_sigma_deg",
    )  # fmt: skip
    return [sa.Column(name, sa.Double, nullable=False) for name in always] + [
        sa.Column(name, sa.Double) for name in sometimes
    ]
