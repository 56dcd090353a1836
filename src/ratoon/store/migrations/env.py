"""What Alembic runs: the steps, inside the writing transaction that the store holds open."""

from __future__ import annotations

from alembic import context

from ratoon.store.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
