"""Recordings kept without a second one, kept files that are put away, and columns said for each side of a ride."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add tables and columns; what the catalogue holds stays as it is."""
    op.execute("ALTER TABLE rides ADD COLUMN reference_mapping_sha256 TEXT REFERENCES recordings (sha256)")
    op.execute("ALTER TABLE rides ADD COLUMN unit_mapping_sha256 TEXT REFERENCES recordings (sha256)")
    op.create_table(
        "lone_recordings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("recording_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False),
        sa.Column("part", sa.Integer),
        sa.Column("mapping_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
    )
    op.create_table(
        "put_away",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("file_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False, unique=True),
    )
