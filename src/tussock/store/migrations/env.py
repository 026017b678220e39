"""Run by Alembic: the migrations run on the connection, and in the transaction, of whoever asks."""

from alembic import context

from tussock.store.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite changes a table by copying it
)
context.run_migrations()
