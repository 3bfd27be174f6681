"""Which server measures a clip, and whether it is still there."""

import sqlalchemy as sa
from alembic import op

from app.history.models import UtcDateTime

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Add the columns."""
    op.add_column("clip_job", sa.Column("claim", sa.String(32)))
    op.add_column("clip_job", sa.Column("server", sa.String(120)))
    op.add_column("clip_job", sa.Column("beat_at", UtcDateTime))
    op.create_index("ix_clip_job_claim", "clip_job", ["claim"])
