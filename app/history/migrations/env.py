"""Run by Alembic: apply the migrations over the connection that the application opened."""

from alembic import context

from app.history.models import Base

config = context.config
context.configure(
    connection=config.attributes["connection"],
    target_metadata=Base.metadata,
    version_table=config.attributes["version_table"],
    render_as_batch=True,
)
context.run_migrations()
