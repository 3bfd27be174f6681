"""Nobody asks for an exercise of all athletes: no index of exercises alone."""

from alembic import op

revision = "0015"
down_revision = "0014"


def upgrade() -> None:
    """Drop the index."""
    op.drop_index("ix_result_exercise", "result")
