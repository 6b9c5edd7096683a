"""The tester's own words about what is on the bench, kept apart from what the program says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import sqlalchemy as sa

from wattwitness.bench.changes import Record, now_utc
from wattwitness.bench.tables import NOTES


class About(StrEnum):
    """What a note is about."""

    BENCH = "bench"
    UNIT = "unit"
    RIDE = "ride"
    METER = "meter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One note as it was written."""

    id: int
    written_at: str
    text: str


def notes_about(connection: sa.Connection, about: About, about_id: int) -> list[Note]:
    """The notes about one thing, the oldest first."""
    mine = sa.and_(NOTES.c.about == about.value, NOTES.c.about_id == about_id)
    rows = connection.execute(sa.select(NOTES).where(mine).order_by(NOTES.c.id)).mappings()
    return [Note(id=row["id"], written_at=row["written_at"], text=row["text"]) for row in rows]


def put_note(record: Record, about: About, about_id: int, text: str) -> int:
    """Write down a note."""
    return record.add(NOTES, about=about.value, about_id=about_id, written_at=now_utc(), text=text)
