"""Run by Alembic: applies the migrations on the connection that the store hands over."""

from __future__ import annotations

from alembic import context

from chargewright.jobs.tables import metadata


def _run() -> None:
    context.configure(
        connection=context.config.attributes["connection"],
        target_metadata=metadata,
        render_as_batch=True,  # SQLite changes a table by copying it
        transactional_ddl=True,  # the store begins and commits: all migrations, or none
    )
    context.run_migrations()


if hasattr(context, "config"):  # false when a tool merely imports this file
    _run()
