"""An athlete's mass, for the force of a sprint."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"


def upgrade() -> None:
    """Add the column."""
    op.add_column("athlete_facts", sa.Column("mass_kg", sa.Double()))
