"""Whether a coach has looked at a clip without numbers; before, its step said so."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"

SEEN = "seen by a coach"


def upgrade() -> None:
    """Add the column, and give it what the steps say."""
    op.add_column(
        "clip_job", sa.Column("is_seen", sa.Boolean, nullable=False, server_default=sa.false())
    )
    job = sa.table("clip_job", sa.column("is_seen", sa.Boolean), sa.column("step", sa.String))
    op.execute(sa.update(job).where(job.c.step == SEEN).values(is_seen=True, step=None))
