"""Run the steps on the connection that the bench has opened, inside its transaction."""

from __future__ import annotations

from alembic import context

context.configure(connection=context.config.attributes["connection"], target_metadata=None, transactional_ddl=True)
context.run_migrations()
