"""A bench in use: recordings added to it, and what it holds."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.changes import Record
from wattwitness.bench.meters import meter_id_of
from wattwitness.bench.originals import Original, check_original, keep
from wattwitness.bench.questions import put_question
from wattwitness.bench.rides import (
    KeptRide,
    originals_of,
    other_units_of,
    put_original,
    put_ride,
    rides_of,
    unit_id_of,
)
from wattwitness.bench.tables import FILES, UNITS
from wattwitness.model.errors import BenchInvalid, FileMissing, SettingInvalid
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.readers.open import split_part
from wattwitness.readers.toml_checks import LONGEST_TEXT
from wattwitness.readers.words import plain_text

Progress = Callable[[str], None]
NOTHING_ASKED = ListedStudy(rides=())


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What came of adding rides: those that are new, those that the bench had already, and the other units that it has
    the same recordings of.
    """

    new: int
    known: int
    elsewhere: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchHolds:
    """What is on a bench, with what is wrong with its originals, a sentence each."""

    rides: tuple[KeptRide, ...]
    originals: int
    size_bytes: int
    wrong: tuple[str, ...]


@contextmanager
def taken_together(paths: Sequence[Path]) -> Iterator[Path]:
    """The one folder or list named; or a folder with copies of the loose files, for as long as the block runs.

    Raises FileMissing for a name among several that is no file, SettingInvalid for two files of one name.
    """
    if len(paths) == 1:
        yield paths[0]
        return
    with tempfile.TemporaryDirectory(prefix="wattwitness-") as name:
        folder = Path(name)
        for path in paths:
            if not path.is_file():
                raise FileMissing("There is no such file.", where=str(path), hint="Name one folder or list, or files.")
            if (folder / path.name).exists():
                raise SettingInvalid(
                    f"Two of the files are called “{path.name}”.", where=str(path), hint="Name the folder of both."
                )
            shutil.copyfile(path, folder / path.name)
        yield folder


def add_rides(bench: Path, listed: ListedStudy, unit: str, *, progress: Progress = lambda _: None) -> Added:
    """Keep the rides' originals, then write the rides down, one whole ride at a time.

    A ride is written down only when its bytes are on the disk; the same command again completes one that was cut
    short. Raises FileMissing, FileNotReadable, OutputNotWritable, BenchNewer, BenchInvalid, BenchBusy.
    """
    unit = plain_text(unit, LONGEST_TEXT)
    with catalogue(bench, write=True):
        pass  # a bench that cannot be used is told before anything is copied
    new = 0
    elsewhere: dict[str, None] = {}
    for done, ride in enumerate(listed.rides, start=1):
        kept = _keep_ride(bench, ride, unit)
        with catalogue(bench, write=True) as connection:
            for original in kept.files.values():
                put_original(connection, original)
            elsewhere.update(dict.fromkeys(other_units_of(connection, kept)))
            new += put_ride(connection, _with_meters(connection, kept))
            if ride is listed.rides[-1]:
                _keep_question(connection, unit, listed)
        progress(f"kept {done} of {len(listed.rides)} rides")
    return Added(new=new, known=len(listed.rides) - new, elsewhere=tuple(elsewhere))


def bench_holds(bench: Path, *, check: bool) -> BenchHolds:
    """What is on the bench; with ``check`` every original is read and held against its SHA-256."""
    with catalogue(bench) as connection:
        rides, originals = rides_of(connection, bench), originals_of(connection)
    wrong = []
    for original in originals if check else ():
        try:
            check_original(bench, original)
        except BenchInvalid as error:
            wrong.append(error.what)
    return BenchHolds(
        rides=tuple(rides),
        originals=len(originals),
        size_bytes=sum(one.size_bytes for one in originals),
        wrong=tuple(wrong),
    )


def _keep_question(connection: sa.Connection, unit: str, listed: ListedStudy) -> None:
    """Keep what a list asks of its unit, beside its rides; a folder asks nothing."""
    if replace(listed, rides=(), unit="") == NOTHING_ASKED:
        return
    record = Record(connection)
    put_question(connection, record, unit_id_of(connection, unit), listed)
    record.done(f"What is asked of {unit} came with its list of rides.")


def _with_meters(connection: sa.Connection, ride: KeptRide) -> KeptRide:
    """The ride with the meter that wrote its reference; the unit's meter is that of the unit, unless it has one."""
    reference, unit = ride.noted.wrote
    record = Record(connection)
    if unit:
        unit_id = unit_id_of(connection, ride.unit)
        known = connection.execute(sa.select(UNITS.c.meter_id).where(UNITS.c.id == unit_id)).scalar()
        if known is None:
            record.change(UNITS, unit_id, meter_id=meter_id_of(connection, record, unit))
    meter_id = meter_id_of(connection, record, reference) if reference else None
    return replace(ride, reference_meter_id=meter_id)


def _keep_ride(bench: Path, ride: ListedRide, unit: str) -> KeptRide:
    files: dict[str, Original] = {}
    parts: dict[str, int | None] = {}
    for name, argument in (("reference", ride.reference), ("unit", ride.unit)):
        path, parts[name] = split_part(argument)
        files[name] = keep(bench, path)
    for name in FILES[2:]:
        path_or_none: Path | None = getattr(ride, name)
        if path_or_none is not None:
            files[name] = keep(bench, path_or_none)
    return KeptRide(unit=unit, files=files, parts=parts, noted=ride)
