"""Meters, and how each was set up from which day on."""

from __future__ import annotations

from dataclasses import dataclass, replace

import sqlalchemy as sa

from wattwitness.bench.changes import Record
from wattwitness.bench.originals import Original
from wattwitness.bench.tables import METERS, RECORDINGS, SETUPS, UNITS


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """How a meter was set up from ``since_day`` on (empty: from the first ride). ``described`` is the file that says
    so, as it came (``None``: only the firmware is on record).
    """

    id: int
    since_day: str
    firmware: str
    described: Original | None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptMeter:
    """A meter with its setups, the earliest first, and the names of the units that it is."""

    id: int
    name: str
    setups: tuple[Setup, ...]
    units: tuple[str, ...]

    def on(self, day: str) -> Setup | None:
        """The setup in force on a day: the latest that began by then; of a ride without a day, the only one.

        A later setup that says only the firmware leaves the description before it in force.
        """
        if not day:
            return self.setups[0] if len(self.setups) == 1 else None
        began = [setup for setup in self.setups if setup.since_day <= day]
        if not began:
            return None
        described = [setup.described for setup in began if setup.described is not None]
        versions = [setup.firmware for setup in began if setup.firmware]
        return replace(
            began[-1],
            described=described[-1] if described else None,
            firmware=versions[-1] if versions else "",
        )


def meters_of(connection: sa.Connection) -> list[KeptMeter]:
    """Every meter, by its name."""
    setups = connection.execute(
        sa.select(SETUPS, RECORDINGS.c.file_name, RECORDINGS.c.size_bytes)
        .join(RECORDINGS, SETUPS.c.file_sha256 == RECORDINGS.c.sha256, isouter=True)
        .order_by(SETUPS.c.since_day, SETUPS.c.id)
    ).mappings()
    mine: dict[int, list[Setup]] = {}
    for row in setups:
        sha256 = row["file_sha256"]
        described = (
            Original(sha256=sha256, file_name=row["file_name"], size_bytes=row["size_bytes"]) if sha256 else None
        )
        setup = Setup(id=row["id"], since_day=row["since_day"], firmware=row["firmware"], described=described)
        mine.setdefault(row["meter_id"], []).append(setup)
    units: dict[int, list[str]] = {}
    for name, meter_id in connection.execute(sa.select(UNITS.c.name, UNITS.c.meter_id).order_by(UNITS.c.id)):
        units.setdefault(meter_id, []).append(name)
    meters = connection.execute(sa.select(METERS).order_by(METERS.c.name)).mappings()
    return [
        KeptMeter(
            id=row["id"],
            name=row["name"],
            setups=tuple(mine.get(row["id"], ())),
            units=tuple(units.get(row["id"], ())),
        )
        for row in meters
    ]


def meter_id_of(connection: sa.Connection, record: Record, name: str) -> int:
    """The id of the meter of that name, written down where it is new."""
    known = connection.execute(sa.select(METERS.c.id).where(METERS.c.name == name)).scalar()
    return int(known) if known is not None else record.add(METERS, name=name)


def put_setup(
    connection: sa.Connection,
    record: Record,
    meter_id: int,
    *,
    since_day: str,
    firmware: str,
    described: Original | None,
) -> bool:
    """Write down a setup, in place of one from the same day; ``False`` where it is there already."""
    values = {"firmware": firmware, "file_sha256": None if described is None else described.sha256}
    known = connection.execute(
        sa.select(SETUPS.c.id).where(SETUPS.c.meter_id == meter_id, SETUPS.c.since_day == since_day)
    ).scalar()
    if known is not None:
        return record.change(SETUPS, known, **values)
    record.add(SETUPS, meter_id=meter_id, since_day=since_day, **values)
    return True
