"""Which foot was in front at the start of a run that is sent."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Add the column."""
    op.add_column("clip_job", sa.Column("start_foot", sa.String(5)))
