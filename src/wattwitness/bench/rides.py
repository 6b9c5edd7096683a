"""Rides of the catalogue, with the originals they are made of, and figures kept under what they were computed from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import FILE_NAME
from wattwitness.bench.changes import next_id, now_utc
from wattwitness.bench.json_form import from_text, to_text
from wattwitness.bench.meters import KeptMeter, Setup, meters_of
from wattwitness.bench.originals import Original
from wattwitness.bench.tables import FILES, RECORDINGS, RESULTS, RIDES, STRETCHES, UNITS
from wattwitness.model.errors import BenchInvalid
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.ride_list import ListedRide
from wattwitness.model.study import RideFigures

WORDS = ("name", "ride_group", "rider", "firmware", "day", "excluded")
NUMBERS = ("temperature_c", "offset_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRide:
    """A ride of a unit on the bench. ``files`` holds the originals under the names of ``FILES``, and ``parts`` which
    recording of the file is meant (``None``: it has one). ``noted`` is the rest; its paths mean nothing. ``id`` and
    ``unit_id`` are the catalogue's (0: not written down yet), ``reference_meter_id`` that of the meter which wrote the
    reference, where it is known. A ride without a description of a meter has the setup that was in force on its day.
    """

    unit: str
    files: Mapping[str, Original]
    parts: Mapping[str, int | None]
    noted: ListedRide
    id: int = 0
    unit_id: int = 0
    reference_meter_id: int | None = None


def put_original(connection: sa.Connection, original: Original) -> None:
    """Write down an original whose bytes are kept; nothing where it is known already."""
    known = connection.execute(sa.select(RECORDINGS.c.sha256).where(RECORDINGS.c.sha256 == original.sha256)).first()
    if known is None:
        connection.execute(
            RECORDINGS.insert().values(
                sha256=original.sha256,
                file_name=original.file_name,
                size_bytes=original.size_bytes,
                added_at=now_utc(),
            )
        )


def put_ride(connection: sa.Connection, ride: KeptRide) -> bool:
    """Write down a ride; ``False`` where the unit has one of the same two recordings already.

    A name that another ride of the unit has gets a number.
    """
    unit = unit_id_of(connection, ride.unit)
    mine = connection.execute(sa.select(RIDES).where(RIDES.c.unit_id == unit)).mappings().all()
    made_of = _made_of(ride)
    if any(all(row[key] == value for key, value in made_of.items()) for row in mine):
        return False
    noted, names = ride.noted, {row["name"] for row in mine}
    name, number = noted.name, 2
    while name in names:
        name, number = f"{noted.name} {number}", number + 1
    others = {f"{key}_sha256": _sha256(ride, key) for key in FILES[2:]}
    ride_id = connection.execute(
        RIDES.insert()
        .values(
            id=next_id(connection, RIDES),
            unit_id=unit,
            name=name,
            ride_group=noted.group,
            rider=noted.rider,
            firmware=noted.firmware,
            day=noted.day,
            excluded=noted.excluded,
            temperature_c=noted.temperature_c,
            offset_s=noted.offset_s,
            reference_meter_id=ride.reference_meter_id,
            **made_of,
            **others,
        )
        .returning(RIDES.c.id)
    ).scalar_one()
    for stretch in noted.stretches_out:
        connection.execute(STRETCHES.insert().values(ride_id=ride_id, **asdict(stretch)))
    return True


def other_units_of(connection: sa.Connection, ride: KeptRide) -> list[str]:
    """The other units that have a ride of the same two recordings."""
    made_of = _made_of(ride).items()
    same = [RIDES.c[name].is_(None) if value is None else RIDES.c[name] == value for name, value in made_of]
    asked = sa.select(UNITS.c.name).join(RIDES, RIDES.c.unit_id == UNITS.c.id).where(*same, UNITS.c.name != ride.unit)
    return list(connection.execute(asked.distinct()).scalars())


def originals_of(connection: sa.Connection) -> list[Original]:
    """Every original that is written down."""
    rows = connection.execute(sa.select(RECORDINGS).order_by(RECORDINGS.c.sha256)).mappings()
    return [Original(**{key: row[key] for key in ("sha256", "file_name", "size_bytes")}) for row in rows]


def rides_of(connection: sa.Connection, bench: Path, unit: str | None = None) -> list[KeptRide]:
    """The rides in the order they came, of one unit or of all. Raises BenchInvalid where an original is unknown."""
    originals = {one.sha256: one for one in originals_of(connection)}
    asked = sa.select(RIDES, UNITS.c.name.label("unit_name"), UNITS.c.meter_id.label("unit_meter_id")).join(
        UNITS, RIDES.c.unit_id == UNITS.c.id
    )
    if unit is not None:
        asked = asked.where(UNITS.c.name == unit)
    stretches, meters = _stretches(connection), {one.id: one for one in meters_of(connection)}
    rides = []
    for row in connection.execute(asked.order_by(RIDES.c.id)).mappings():
        shas = {name: row[f"{name}_sha256"] for name in FILES if row[f"{name}_sha256"] is not None}
        if any(sha256 not in originals for sha256 in shas.values()):
            raise BenchInvalid(
                f"The ride “{row['name']}” names a recording that is not written down.",
                where=str(bench / FILE_NAME),
                hint="Put the bench back from a copy.",
            )
        noted = {name: row[name] for name in (*WORDS, *NUMBERS) if name != "ride_group"}
        files = {name: originals[sha256] for name, sha256 in shas.items()}
        in_force = {
            "reference_meter": _in_force(meters, row["reference_meter_id"], row["day"]),
            "unit_meter": _in_force(meters, row["unit_meter_id"], row["day"]),
        }
        for name, setup in in_force.items():
            if setup is not None and setup.described is not None:
                files.setdefault(name, setup.described)
        if in_force["unit_meter"] is not None:
            noted["firmware"] = noted["firmware"] or in_force["unit_meter"].firmware
        rides.append(
            KeptRide(
                id=row["id"],
                unit_id=row["unit_id"],
                reference_meter_id=row["reference_meter_id"],
                unit=row["unit_name"],
                files=files,
                parts={name: row[f"{name}_part"] for name in FILES[:2]},
                noted=ListedRide(
                    reference="",
                    unit="",
                    group=row["ride_group"],
                    stretches_out=tuple(stretches.get(row["id"], ())),
                    **noted,
                ),
            )
        )
    return rides


def stretch_ids(connection: sa.Connection, ride_id: int) -> list[int]:
    """The ids of a ride's stretches that are left out, in the order of ``noted.stretches_out``."""
    asked = sa.select(STRETCHES.c.id).where(STRETCHES.c.ride_id == ride_id).order_by(STRETCHES.c.from_s, STRETCHES.c.id)
    return list(connection.execute(asked).scalars())


def _stretches(connection: sa.Connection) -> dict[int, list[LeftOutStretch]]:
    found: dict[int, list[LeftOutStretch]] = {}
    for row in connection.execute(sa.select(STRETCHES).order_by(STRETCHES.c.from_s, STRETCHES.c.id)).mappings():
        stretch = LeftOutStretch(from_s=row["from_s"], to_s=row["to_s"], reason=row["reason"])
        found.setdefault(row["ride_id"], []).append(stretch)
    return found


def _in_force(meters: Mapping[int, KeptMeter], meter_id: int | None, day: str) -> Setup | None:
    """How a meter was set up on a ride's day; ``None`` where it is not known."""
    meter = None if meter_id is None else meters.get(meter_id)
    return None if meter is None else meter.on(day)


def kept_figures(connection: sa.Connection, keys: Sequence[str]) -> dict[str, RideFigures]:
    """The figures kept under ``keys``; what cannot be read again is as if it were not there."""
    found = {}
    for key in keys:
        text = connection.execute(sa.select(RESULTS.c.figures).where(RESULTS.c.key == key)).scalar()
        if text is None:
            continue
        try:
            found[key] = from_text(RideFigures, text, whole=True)
        except ValueError:
            continue
    return found


def put_figures(connection: sa.Connection, key: str, figures: RideFigures) -> None:
    """Keep figures under their key, in place of any that are there."""
    connection.execute(RESULTS.insert().prefix_with("OR REPLACE").values(key=key, figures=to_text(figures)))


def _made_of(ride: KeptRide) -> dict[str, str | int | None]:
    return {
        "reference_sha256": ride.files["reference"].sha256,
        "reference_part": ride.parts["reference"],
        "unit_sha256": ride.files["unit"].sha256,
        "unit_part": ride.parts["unit"],
    }


def _sha256(ride: KeptRide, name: str) -> str | None:
    return ride.files[name].sha256 if name in ride.files else None


def unit_id_of(connection: sa.Connection, name: str) -> int:
    """The id of the unit of that name, written down where it is new."""
    known = connection.execute(sa.select(UNITS.c.id).where(UNITS.c.name == name)).scalar()
    if known is not None:
        return int(known)
    return int(connection.execute(UNITS.insert().values(name=name).returning(UNITS.c.id)).scalar_one())
