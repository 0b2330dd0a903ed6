"""Machines, jobs and their readings."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Create the first tables."""
    op.create_table(
        "machines",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_machines"),
        sa.UniqueConstraint("key", name="uq_machines_key"),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("machine_id", sa.Integer()),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("class_id", sa.String(), nullable=False),
        sa.Column("confirmed_cause", sa.String()),
        sa.Column("created", sa.String(), nullable=False),
        sa.Column("updated", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("card_version", sa.Integer(), nullable=False),
        sa.Column("card", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_jobs"),
        sa.ForeignKeyConstraint(["machine_id"], ["machines.id"], name="fk_jobs_machine_id"),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_jobs_revision")),
    )
    op.create_index("ix_jobs_machine_id", "jobs", ["machine_id"])
    op.create_index("ix_jobs_updated", "jobs", ["updated"])
    op.create_table(
        "readings",
        sa.Column("job_id", sa.String(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("reading_id", sa.String(), nullable=False),
        sa.Column("check_id", sa.String()),
        sa.Column("function", sa.String(), nullable=False),
        sa.Column("plus", sa.String()),
        sa.Column("minus", sa.String()),
        sa.Column("state_hash", sa.String(), nullable=False),
        sa.Column("qualifier", sa.String()),
        sa.Column("value", sa.Float()),
        sa.Column("value_max", sa.Float()),
        sa.Column("unit", sa.String()),
        sa.Column("sign", sa.Boolean()),
        sa.Column("at", sa.String()),
        sa.Column("stage", sa.String(), nullable=False),
        sa.Column("excluded", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("job_id", "position", name="pk_readings"),
        sa.ForeignKeyConstraint(
            ["job_id"], ["jobs.id"], name="fk_readings_job_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_readings_check_id", "readings", ["check_id"])
