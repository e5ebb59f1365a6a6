"""Run the steps on the connection that the studio hands over."""

from alembic import context

from loosehand.studio.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
