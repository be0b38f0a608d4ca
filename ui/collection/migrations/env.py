"""Brings a database to the present tables; run by `ui.collection.store`."""

from alembic import context

from ui.collection.tables import Base

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=Base.metadata, render_as_batch=True)
with context.begin_transaction():
    context.run_migrations()
