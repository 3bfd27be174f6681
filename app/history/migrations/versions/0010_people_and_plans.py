"""Teams, accounts, uploads, reviews and plans."""

import sqlalchemy as sa
from alembic import op

from app.history.models import UtcDateTime

revision = "0010"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables of the pages."""
    _sign_in_try()
    _team()
    _account()
    _athlete_facts()
    _consent()
    _place()
    _planned_session()
    _team_athlete()
    _invitation()
    _planned_entry()
    _sign_in()
    _team_coach()
    _note()
    _ticked_entry()
    _verdict()
    _clip_job()
    _moved_event()
    _revision()


def _sign_in_try() -> None:
    op.create_table(
        "sign_in_try",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("against", sa.String(length=64), nullable=False),
        sa.Column("tried_at", UtcDateTime, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_try"),
    )
    op.create_index(
        "ix_sign_in_try_against_at", "sign_in_try", ["against", "tried_at"], unique=False
    )


def _team() -> None:
    op.create_table(
        "team",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("name_key", sa.String(length=300), nullable=False),
        sa.Column("created_at", UtcDateTime, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_team"),
        sa.UniqueConstraint("name_key", name="uq_team_name_key"),
    )


def _account() -> None:
    op.create_table(
        "account",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("sign_in_name", sa.String(length=200), nullable=False),
        sa.Column("sign_in_key", sa.String(length=600), nullable=False),
        sa.Column("shown_name", sa.String(length=100), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("password_hash", sa.String(length=300), nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=True),
        sa.Column("uses_inches", sa.Boolean, nullable=False),
        sa.Column("uses_yards", sa.Boolean, nullable=False),
        sa.Column("created_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athlete.id"], name="fk_account_athlete_id_athlete", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_account"),
        sa.UniqueConstraint("athlete_id", name="uq_account_athlete_id"),
        sa.UniqueConstraint("sign_in_key", name="uq_account_sign_in_key"),
    )


def _athlete_facts() -> None:
    op.create_table(
        "athlete_facts",
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("born_on", sa.Date, nullable=True),
        sa.Column("sex", sa.String(length=10), nullable=True),
        sa.ForeignKeyConstraint(
            ["athlete_id"],
            ["athlete.id"],
            name="fk_athlete_facts_athlete_id_athlete",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("athlete_id", name="pk_athlete_facts"),
    )


def _consent() -> None:
    op.create_table(
        "consent",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("given_by", sa.String(length=100), nullable=False),
        sa.Column("is_guardian", sa.Boolean, nullable=False),
        sa.Column("wording", sa.String(length=2000), nullable=False),
        sa.Column("given_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athlete.id"], name="fk_consent_athlete_id_athlete", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_consent"),
    )
    op.create_index("ix_consent_athlete_id", "consent", ["athlete_id"], unique=False)


def _place() -> None:
    op.create_table(
        "place",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("team_id", sa.Integer, nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("name_key", sa.String(length=300), nullable=False),
        sa.Column("setup", sa.JSON, nullable=False),
        sa.Column("saved_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["team_id"], ["team.id"], name="fk_place_team_id_team", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_place"),
        sa.UniqueConstraint("team_id", "name_key", name="uq_place_team_id_name_key"),
    )


def _planned_session() -> None:
    op.create_table(
        "planned_session",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("team_id", sa.Integer, nullable=False),
        sa.Column("on_date", sa.Date, nullable=False),
        sa.Column("title", sa.String(length=100), nullable=False),
        sa.ForeignKeyConstraint(
            ["team_id"], ["team.id"], name="fk_planned_session_team_id_team", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_planned_session"),
        sa.UniqueConstraint("team_id", "on_date", name="uq_planned_session_team_id_on_date"),
    )


def _team_athlete() -> None:
    op.create_table(
        "team_athlete",
        sa.Column("team_id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"],
            ["athlete.id"],
            name="fk_team_athlete_athlete_id_athlete",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["team_id"], ["team.id"], name="fk_team_athlete_team_id_team", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("team_id", "athlete_id", name="pk_team_athlete"),
    )
    op.create_index("ix_team_athlete_athlete_id", "team_athlete", ["athlete_id"], unique=False)


def _invitation() -> None:
    op.create_table(
        "invitation",
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("team_id", sa.Integer, nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=True),
        sa.Column("invited_by", sa.Integer, nullable=True),
        sa.Column("expires_at", UtcDateTime, nullable=False),
        sa.Column("used_at", UtcDateTime, nullable=True),
        sa.ForeignKeyConstraint(
            ["athlete_id"],
            ["athlete.id"],
            name="fk_invitation_athlete_id_athlete",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["invited_by"],
            ["account.id"],
            name="fk_invitation_invited_by_account",
            ondelete="SET NULL",
        ),
        sa.ForeignKeyConstraint(
            ["team_id"], ["team.id"], name="fk_invitation_team_id_team", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token_sha256", name="pk_invitation"),
    )
    op.create_index("ix_invitation_team_id", "invitation", ["team_id"], unique=False)


def _planned_entry() -> None:
    op.create_table(
        "planned_entry",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("session_id", sa.Integer, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("pair", sa.String(length=5), nullable=False),
        sa.Column("exercise", sa.String(length=50), nullable=True),
        sa.Column("text", sa.String(length=200), nullable=False),
        sa.Column("sets", sa.Integer, nullable=False),
        sa.Column("repetitions", sa.Integer, nullable=False),
        sa.Column("is_each_side", sa.Boolean, nullable=False),
        sa.Column("rest_s", sa.Double, nullable=True),
        sa.Column("pause_s", sa.Double, nullable=True),
        sa.Column("target", sa.String(length=100), nullable=False),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["planned_session.id"],
            name="fk_planned_entry_session_id_planned_session",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_planned_entry"),
    )
    op.create_index("ix_planned_entry_session_id", "planned_entry", ["session_id"], unique=False)


def _sign_in() -> None:
    op.create_table(
        "sign_in",
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.Column("created_at", UtcDateTime, nullable=False),
        sa.Column("expires_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"], ["account.id"], name="fk_sign_in_account_id_account", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("token_sha256", name="pk_sign_in"),
    )
    op.create_index("ix_sign_in_account_id", "sign_in", ["account_id"], unique=False)


def _team_coach() -> None:
    op.create_table(
        "team_coach",
        sa.Column("team_id", sa.Integer, nullable=False),
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"],
            ["account.id"],
            name="fk_team_coach_account_id_account",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["team_id"], ["team.id"], name="fk_team_coach_team_id_team", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("team_id", "account_id", name="pk_team_coach"),
    )
    op.create_index("ix_team_coach_account_id", "team_coach", ["account_id"], unique=False)


def _note() -> None:
    op.create_table(
        "note",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("clip_id", sa.Integer, nullable=False),
        sa.Column("text", sa.String(length=2000), nullable=False),
        sa.Column("by_name", sa.String(length=100), nullable=False),
        sa.Column("written_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["clip_id"], ["clip.id"], name="fk_note_clip_id_clip", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_note"),
    )
    op.create_index("ix_note_clip_id", "note", ["clip_id"], unique=False)


def _ticked_entry() -> None:
    op.create_table(
        "ticked_entry",
        sa.Column("entry_id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("ticked_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["athlete_id"],
            ["athlete.id"],
            name="fk_ticked_entry_athlete_id_athlete",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"],
            ["planned_entry.id"],
            name="fk_ticked_entry_entry_id_planned_entry",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("entry_id", "athlete_id", name="pk_ticked_entry"),
    )
    op.create_index("ix_ticked_entry_athlete_id", "ticked_entry", ["athlete_id"], unique=False)


def _verdict() -> None:
    op.create_table(
        "verdict",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("clip_id", sa.Integer, nullable=False),
        sa.Column("jump_number", sa.Integer, nullable=False),
        sa.Column("is_accepted", sa.Boolean, nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.Column("by_name", sa.String(length=100), nullable=False),
        sa.Column("given_at", UtcDateTime, nullable=False),
        sa.ForeignKeyConstraint(
            ["clip_id"], ["clip.id"], name="fk_verdict_clip_id_clip", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_verdict"),
    )
    op.create_index("ix_verdict_clip_id", "verdict", ["clip_id"], unique=False)


def _clip_job() -> None:
    op.create_table(
        "clip_job",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("athlete_id", sa.Integer, nullable=False),
        sa.Column("clip_sha256", sa.String(length=64), nullable=False),
        sa.Column("file_name", sa.String(length=255), nullable=False),
        sa.Column("suffix", sa.String(length=10), nullable=False),
        sa.Column("exercise", sa.String(length=50), nullable=True),
        sa.Column("place_id", sa.Integer, nullable=True),
        sa.Column("uploaded_at", UtcDateTime, nullable=False),
        sa.Column("status", sa.String(length=10), nullable=False),
        sa.Column("step", sa.String(length=50), nullable=True),
        sa.Column("part", sa.Double, nullable=False),
        sa.Column("attempt", sa.Integer, nullable=False),
        sa.Column("message", sa.String(length=1000), nullable=True),
        sa.Column("hint", sa.String(length=1000), nullable=True),
        sa.Column("result_id", sa.Integer, nullable=True),
        sa.Column("finished_at", UtcDateTime, nullable=True),
        sa.ForeignKeyConstraint(
            ["athlete_id"],
            ["athlete.id"],
            name="fk_clip_job_athlete_id_athlete",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name="fk_clip_job_place_id_place", ondelete="SET NULL"
        ),
        sa.ForeignKeyConstraint(
            ["result_id"], ["result.id"], name="fk_clip_job_result_id_result", ondelete="SET NULL"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_clip_job"),
        sa.UniqueConstraint("athlete_id", "clip_sha256", name="uq_clip_job_athlete_id_clip_sha256"),
    )
    op.create_index("ix_clip_job_clip_sha256", "clip_job", ["clip_sha256"], unique=False)
    op.create_index("ix_clip_job_result_id", "clip_job", ["result_id"], unique=False)
    op.create_index("ix_clip_job_status", "clip_job", ["status"], unique=False)


def _moved_event() -> None:
    op.create_table(
        "moved_event",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("base_result_id", sa.Integer, nullable=False),
        sa.Column("event", sa.String(length=50), nullable=False),
        sa.Column("from_s", sa.Double, nullable=False),
        sa.Column("to_s", sa.Double, nullable=False),
        sa.Column("sigma_s", sa.Double, nullable=False),
        sa.Column("why", sa.String(length=500), nullable=False),
        sa.Column("by_name", sa.String(length=100), nullable=False),
        sa.Column("moved_at", UtcDateTime, nullable=False),
        sa.Column("undone_by", sa.String(length=100), nullable=True),
        sa.Column("undone_at", UtcDateTime, nullable=True),
        sa.ForeignKeyConstraint(
            ["base_result_id"],
            ["result.id"],
            name="fk_moved_event_base_result_id_result",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_moved_event"),
    )
    op.create_index(
        "ix_moved_event_base_result_id", "moved_event", ["base_result_id"], unique=False
    )


def _revision() -> None:
    op.create_table(
        "revision",
        sa.Column("result_id", sa.Integer, nullable=False),
        sa.Column("base_result_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(
            ["base_result_id"],
            ["result.id"],
            name="fk_revision_base_result_id_result",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["result_id"], ["result.id"], name="fk_revision_result_id_result", ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("result_id", name="pk_revision"),
    )
    op.create_index("ix_revision_base_result_id", "revision", ["base_result_id"], unique=False)
