"""Meters and their setup over time, stretches left out, what is asked of a unit, claims, notes, and every change."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add what the first catalogue did not hold; what it holds stays as it is."""
    op.create_table(
        "meters",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
    )
    op.create_table(
        "setups",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("meter_id", sa.Integer, sa.ForeignKey("meters.id"), nullable=False),
        sa.Column("since_day", sa.Text, nullable=False),
        sa.Column("firmware", sa.Text, nullable=False),
        sa.Column("file_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
    )
    op.execute("ALTER TABLE units ADD COLUMN meter_id INTEGER REFERENCES meters (id)")
    op.execute("ALTER TABLE rides ADD COLUMN reference_meter_id INTEGER REFERENCES meters (id)")
    op.create_table(
        "stretches",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("ride_id", sa.Integer, sa.ForeignKey("rides.id"), nullable=False),
        sa.Column("from_s", sa.Float, nullable=False),
        sa.Column("to_s", sa.Float, nullable=False),
        sa.Column("reason", sa.Text, nullable=False),
    )
    op.create_table(
        "studies",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("unit_id", sa.Integer, sa.ForeignKey("units.id"), nullable=False, unique=True),
        sa.Column("question", sa.Text, nullable=False),
    )
    op.create_table(
        "claims",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
        sa.Column("claim", sa.Text, nullable=False),
    )
    op.create_table(
        "notes",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("about", sa.Text, nullable=False),
        sa.Column("about_id", sa.Integer, nullable=False),
        sa.Column("written_at", sa.Text, nullable=False),
        sa.Column("text", sa.Text, nullable=False),
    )
    op.create_table(
        "changes",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("made_at", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("back", sa.Text, nullable=False),
        sa.Column("undone_at", sa.Text),
    )
