"""What other workshops' jobs teach, and which jobs shall not."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Create both tables."""
    op.create_table(
        "lessons",
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("class_id", sa.String(), nullable=False),
        sa.Column("causes", sa.String(), nullable=False),
        sa.Column("by", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("job", name="pk_lessons"),
    )
    op.create_table(
        "taken_out",
        sa.Column("job", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("job", name="pk_taken_out"),
    )
