"""What happened when, photos, and a workshop's own meters, sheets, loads and prices."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the tables, and to each job what its list shows."""
    op.add_column("jobs", sa.Column("decision", sa.String()))
    op.add_column(
        "jobs", sa.Column("reading_count", sa.Integer(), nullable=False, server_default="0")
    )
    op.execute(
        "UPDATE jobs SET decision = json_extract(card, '$.decision.title'), reading_count = "
        "(SELECT count(*) FROM readings WHERE readings.job_id = jobs.id)"
    )
    op.create_table(
        "changes",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_changes"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_changes_job_id", "changes", ["job_id"])
    op.create_table(
        "photos",
        sa.Column("job_id", sa.String(), nullable=False),
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("mime", sa.String(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("reading_id", sa.String()),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("at", sa.String(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("job_id", "id", name="pk_photos"),
        sa.ForeignKeyConstraint(
            ["job_id"], ["jobs.id"], name="fk_photos_job_id", ondelete="CASCADE"
        ),
    )
    op.create_table(
        "papers",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("updated", sa.String(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("kind", "name", name="pk_papers"),
    )
