"""Units, recordings, rides, and the figures computed of them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the first catalogue."""
    op.create_table(
        "units",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
    )
    op.create_table(
        "recordings",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("file_name", sa.Text, nullable=False),
        sa.Column("size_bytes", sa.Integer, nullable=False),
        sa.Column("added_at", sa.Text, nullable=False),
    )
    op.create_table(
        "rides",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("unit_id", sa.Integer, sa.ForeignKey("units.id"), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("reference_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False),
        sa.Column("reference_part", sa.Integer),
        sa.Column("unit_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False),
        sa.Column("unit_part", sa.Integer),
        sa.Column("mapping_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
        sa.Column("reference_meter_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
        sa.Column("unit_meter_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
        sa.Column("ride_group", sa.Text, nullable=False),
        sa.Column("rider", sa.Text, nullable=False),
        sa.Column("firmware", sa.Text, nullable=False),
        sa.Column("day", sa.Text, nullable=False),
        sa.Column("temperature_c", sa.Float),
        sa.Column("offset_s", sa.Float),
        sa.Column("excluded", sa.Text, nullable=False),
        sa.UniqueConstraint("unit_id", "name", name="one_ride_a_name"),
    )
    op.create_table(
        "results",
        sa.Column("key", sa.Text, primary_key=True),
        sa.Column("figures", sa.Text, nullable=False),
    )
