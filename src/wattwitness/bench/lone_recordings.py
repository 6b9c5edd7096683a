"""Recordings that were kept with no second one beside them, and kept files that were put away."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import FILE_NAME
from wattwitness.bench.changes import Record
from wattwitness.bench.originals import Original
from wattwitness.bench.rides import originals_of
from wattwitness.bench.tables import LONE_RECORDINGS, PUT_AWAY, RIDES
from wattwitness.model.errors import BenchInvalid


@dataclass(frozen=True, slots=True, kw_only=True)
class LoneRecording:
    """One recording by itself; ``part``: which of its file it is (``None``: the only one). ``id`` 0: not yet kept."""

    name: str
    original: Original
    part: int | None = None
    mapping: Original | None = None
    id: int = 0


def lone_recordings_of(connection: sa.Connection, bench: Path) -> list[LoneRecording]:
    """Those that no ride is made of by now, in the order they came. Raises BenchInvalid where a file is unknown."""
    originals = {one.sha256: one for one in originals_of(connection)}
    used = {
        (row[f"{side}_sha256"], row[f"{side}_part"])
        for row in connection.execute(sa.select(RIDES)).mappings()
        for side in ("reference", "unit")
    }
    found = []
    for row in connection.execute(sa.select(LONE_RECORDINGS).order_by(LONE_RECORDINGS.c.id)).mappings():
        if (row["recording_sha256"], row["part"]) in used:
            continue
        original, mapping = originals.get(row["recording_sha256"]), originals.get(row["mapping_sha256"])
        if original is None or (mapping is None and row["mapping_sha256"] is not None):
            raise BenchInvalid(
                f"“{row['name']}” names a recording that is not written down.",
                where=str(bench / FILE_NAME),
                hint="Put the bench back from a copy.",
            )
        found.append(
            LoneRecording(id=row["id"], name=row["name"], original=original, part=row["part"], mapping=mapping)
        )
    return found


def put_lone_recording(connection: sa.Connection, record: Record, lone: LoneRecording) -> None:
    """Write one down; nothing where just that is written down already."""
    asked = sa.select(LONE_RECORDINGS.c.id).where(
        LONE_RECORDINGS.c.recording_sha256 == lone.original.sha256,
        LONE_RECORDINGS.c.part.is_(None) if lone.part is None else LONE_RECORDINGS.c.part == lone.part,
    )
    mapping = None if lone.mapping is None else lone.mapping.sha256
    known = connection.execute(asked).scalar()
    if known is not None:
        record.change(LONE_RECORDINGS, known, mapping_sha256=mapping)
        return
    record.add(
        LONE_RECORDINGS,
        name=lone.name,
        recording_sha256=lone.original.sha256,
        part=lone.part,
        mapping_sha256=mapping,
    )


def put_away_of(connection: sa.Connection) -> set[str]:
    """The SHA-256 of every file that was put away."""
    return set(connection.execute(sa.select(PUT_AWAY.c.file_sha256)).scalars())
