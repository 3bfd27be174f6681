"""Whose a film is, is asked by its content each time that it is sent."""

from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add the index."""
    op.create_index("ix_clip_sha256", "clip", ["sha256"])
