"""A bench in use: recordings added to it, what it holds, and a study that computes only what changed."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence, Set
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

import sqlalchemy as sa

from wattwitness import __version__
from wattwitness.bench.catalogue import FILE_NAME, catalogue
from wattwitness.bench.changes import Record
from wattwitness.bench.meters import meter_id_of
from wattwitness.bench.originals import Original, check_original, keep, original_path
from wattwitness.bench.questions import put_question, question_of
from wattwitness.bench.rides import (
    KeptRide,
    kept_figures,
    originals_of,
    other_units_of,
    put_figures,
    put_original,
    put_ride,
    rides_of,
    unit_id_of,
)
from wattwitness.bench.tables import FILES, UNITS
from wattwitness.engine.pool import in_order
from wattwitness.model.errors import BenchInvalid, FileMissing, SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures, Study
from wattwitness.readers.open import split_part
from wattwitness.readers.toml_checks import LONGEST_TEXT
from wattwitness.readers.words import plain_text
from wattwitness.study.ride_figures import FIGURES_EDITION
from wattwitness.workflows.one_ride import RideTask, figures_of
from wattwitness.workflows.study import judge_rides, ride_tasks

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


def bench_study(
    bench: Path,
    asked: ListedStudy,
    settings: CompareSettings,
    *,
    progress: Progress = lambda _: None,
    processes: int | None = None,
) -> Study:
    """Judge the unit that ``asked`` names, or the only one, by what is asked of it on the bench; what ``asked`` says
    itself wins.

    Rides whose figures are kept for the same files, settings and version are not compared again; the others are, and
    their figures kept.

    Raises UnknownName where the bench has no such unit, and what ``catalogue`` raises.
    """
    kept = kept_study(bench, asked, settings)
    figures, changed = dict(kept.figures), kept.changed
    for number in changed:
        for original in kept.rides[number].files.values():
            check_original(bench, original)
    answers = in_order(figures_of, [kept.tasks[number] for number in changed], processes=processes)
    for done, (number, answer) in enumerate(zip(changed, answers, strict=True), start=1):
        key = kept.keys[number]
        figures[key] = answer
        with catalogue(bench, write=True) as connection:
            put_figures(connection, key, answer)
        progress(f"compared {done} of {len(changed)} rides that changed")
    return judge_rides([figures[key] for key in kept.keys], kept.listed, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptStudy:
    """What a study stands on: the unit's rides, what is asked of them, the work that each would be, and the figures
    that are kept, by the keys of the rides.
    """

    rides: tuple[KeptRide, ...]
    listed: ListedStudy
    tasks: tuple[RideTask, ...]
    keys: tuple[str, ...]
    figures: Mapping[str, RideFigures]

    @property
    def changed(self) -> list[int]:
        """The places of the rides that are to be compared."""
        return [number for number, key in enumerate(self.keys) if key not in self.figures]


def kept_study(bench: Path, asked: ListedStudy, settings: CompareSettings, *, only_asked: bool = False) -> KeptStudy:
    """What there is for a study of the unit that ``asked`` names, without comparing anything; see ``bench_study``.

    ``only_asked``: what is kept of the question counts for nothing.
    """
    with catalogue(bench) as connection:
        everything = rides_of(connection, bench)
    unit = _unit_asked({ride.unit for ride in everything}, asked.unit, bench)
    rides = tuple(ride for ride in everything if ride.unit == unit)
    asked = asked if only_asked else together(kept_question(bench, rides[0].unit_id), asked)
    listed = replace(asked, unit=unit, rides=tuple(listed_ride(bench, ride) for ride in rides))
    tasks = tuple(ride_tasks(listed, settings))
    keys = tuple(figures_key(ride, task) for ride, task in zip(rides, tasks, strict=True))
    with catalogue(bench) as connection:
        figures = kept_figures(connection, keys)
    return KeptStudy(rides=rides, listed=listed, tasks=tasks, keys=keys, figures=figures)


def kept_question(bench: Path, unit_id: int) -> ListedStudy:
    """What is asked of a unit on the bench. Raises BenchInvalid where it cannot be read."""
    with catalogue(bench) as connection:
        try:
            return question_of(connection, unit_id) or NOTHING_ASKED
        except ValueError as error:
            raise BenchInvalid(
                f"What is asked of a unit cannot be read ({error}).",
                where=str(bench / FILE_NAME),
                hint="Say anew what is asked of it, or put the bench back from a copy.",
            ) from error


def ride_settings(bench: Path, unit_id: int) -> CompareSettings:
    """The settings of a comparison by what is asked of its unit, so that a ride and the study say the same."""
    return CompareSettings(reference_uncertainty_pct=kept_question(bench, unit_id).reference_uncertainty_pct)


def together(kept: ListedStudy, asked: ListedStudy) -> ListedStudy:
    """The kept question with what was asked now in its place, wherever something was."""
    said = {item.name: getattr(asked, item.name) for item in fields(asked)}
    given = {name: value for name, value in said.items() if value != getattr(NOTHING_ASKED, name)}
    if asked.zones and asked.own_zones is None:
        given["own_zones"] = None  # zones by a name win over zones of one's own that were kept
    return replace(kept, **given)


def _keep_question(connection: sa.Connection, unit: str, listed: ListedStudy) -> None:
    """Keep what a list asks of its unit, beside its rides; a folder asks nothing."""
    if replace(listed, rides=(), unit="") == NOTHING_ASKED:
        return
    record = Record(connection)
    put_question(connection, record, unit_id_of(connection, unit), listed)
    record.done(f"What is asked of {unit} came with its list of rides.")


def unit_id_on(bench: Path, name: str) -> int:
    """The id of the unit of that name, or of the only one. Raises UnknownName."""
    with catalogue(bench) as connection:
        rides = rides_of(connection, bench)
    unit = _unit_asked({ride.unit for ride in rides}, name, bench)
    return next(ride.unit_id for ride in rides if ride.unit == unit)


def _unit_asked(units: Set[str], asked: str, bench: Path) -> str:
    """The unit meant. Raises UnknownName where it is not on the bench, or none was named and there are several."""
    if asked in units:
        return asked
    if not asked and len(units) == 1:
        return next(iter(units))
    names = ", ".join(f"“{name}”" for name in sorted(units))
    if not units:
        raise UnknownName("There are no rides on the bench yet.", where=str(bench), hint="Add some: bench add.")
    what = f"The bench has no unit “{asked}”." if asked else "The bench has more than one unit."
    raise UnknownName(what, where=str(bench), hint=f"Say which with --unit. Units on it: {names}.")


def figures_key(ride: KeptRide, task: RideTask) -> str:
    """SHA-256 of all that a ride's figures depend on: contents, what is on record of it, settings, version."""
    noted = {key: value for key, value in asdict(ride.noted).items() if key not in ride.files}
    content = {
        "version": __version__,
        "edition": FIGURES_EDITION,
        "files": {name: original.sha256 for name, original in sorted(ride.files.items())},
        "names": {name: original.file_name for name, original in sorted(ride.files.items())},
        "parts": dict(ride.parts),
        "noted": noted,
        "settings": asdict(task.settings),
        "zones": asdict(task.zones),
        "threshold_w": task.threshold_w,
        "unit": task.unit,
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


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


def listed_ride(bench: Path, ride: KeptRide) -> ListedRide:
    """The ride with the paths of its originals, as a comparison takes it."""
    paths = {name: original_path(bench, one.sha256, one.file_name) for name, one in ride.files.items()}

    def argument(name: str) -> str:
        part = ride.parts[name]
        return f"{paths[name]}" if part is None else f"{paths[name]}#{part}"

    return replace(
        ride.noted,
        reference=argument("reference"),
        unit=argument("unit"),
        mapping=paths.get("mapping"),
        reference_mapping=paths.get("reference_mapping"),
        unit_mapping=paths.get("unit_mapping"),
        reference_meter=paths.get("reference_meter"),
        unit_meter=paths.get("unit_meter"),
    )
