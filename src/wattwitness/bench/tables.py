"""The tables of a catalogue, as the newest step under ``migrations/versions`` leaves them; a test holds them together.

Days are ISO 8601 dates, times ISO 8601 in UTC; empty where not known. What a text holds in JSON says its own module.
"""

from __future__ import annotations

import sqlalchemy as sa

METADATA = sa.MetaData()

RECORDINGS = sa.Table(
    "recordings",
    METADATA,
    sa.Column("sha256", sa.Text, primary_key=True),
    sa.Column("file_name", sa.Text, nullable=False),
    sa.Column("size_bytes", sa.Integer, nullable=False),
    sa.Column("added_at", sa.Text, nullable=False),
)
METERS = sa.Table(
    "meters",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False, unique=True),
)
SETUPS = sa.Table(
    "setups",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("meter_id", sa.Integer, sa.ForeignKey("meters.id"), nullable=False),
    sa.Column("since_day", sa.Text, nullable=False),
    sa.Column("firmware", sa.Text, nullable=False),
    sa.Column("file_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
)
UNITS = sa.Table(
    "units",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False, unique=True),
    sa.Column("meter_id", sa.Integer, sa.ForeignKey("meters.id")),
)
FILES = ("reference", "unit", "mapping", "reference_meter", "unit_meter", "reference_mapping", "unit_mapping")
PARTS = ("reference_part", "unit_part")
RIDES = sa.Table(
    "rides",
    METADATA,
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
    sa.Column("reference_meter_id", sa.Integer, sa.ForeignKey("meters.id")),
    sa.Column("reference_mapping_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
    sa.Column("unit_mapping_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
    sa.UniqueConstraint("unit_id", "name", name="one_ride_a_name"),
)
STRETCHES = sa.Table(
    "stretches",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("ride_id", sa.Integer, sa.ForeignKey("rides.id"), nullable=False),
    sa.Column("from_s", sa.Float, nullable=False),
    sa.Column("to_s", sa.Float, nullable=False),
    sa.Column("reason", sa.Text, nullable=False),
)
STUDIES = sa.Table(
    "studies",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("unit_id", sa.Integer, sa.ForeignKey("units.id"), nullable=False, unique=True),
    sa.Column("question", sa.Text, nullable=False),
)
CLAIMS = sa.Table(
    "claims",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False, unique=True),
    sa.Column("claim", sa.Text, nullable=False),
)
NOTES = sa.Table(
    "notes",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("about", sa.Text, nullable=False),
    sa.Column("about_id", sa.Integer, nullable=False),
    sa.Column("written_at", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
)
LONE_RECORDINGS = sa.Table(
    "lone_recordings",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("recording_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False),
    sa.Column("part", sa.Integer),
    sa.Column("mapping_sha256", sa.Text, sa.ForeignKey("recordings.sha256")),
)
PUT_AWAY = sa.Table(
    "put_away",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("file_sha256", sa.Text, sa.ForeignKey("recordings.sha256"), nullable=False, unique=True),
)
CHANGES = sa.Table(
    "changes",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("made_at", sa.Text, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("back", sa.Text, nullable=False),
    sa.Column("undone_at", sa.Text),
)
RESULTS = sa.Table(
    "results",
    METADATA,
    sa.Column("key", sa.Text, primary_key=True),
    sa.Column("figures", sa.Text, nullable=False),
)
