"""The meters of a bench as a tester looks after them: setups over time, what they say, and which units and rides they
belong to.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.changes import Record
from wattwitness.bench.meters import KeptMeter, Setup, meters_of
from wattwitness.bench.originals import original_path
from wattwitness.bench.rides import KeptRide, rides_of
from wattwitness.bench.tables import RIDES
from wattwitness.model.budget import Budget
from wattwitness.model.errors import MeterFileInvalid, UnknownName
from wattwitness.model.recording import Notice
from wattwitness.model.setup import MeterFile
from wattwitness.readers.meter_file import LIMIT_BYTES, STATED_UNITS, load_meter_file, meter_of_tables, parse_meter_file
from wattwitness.reference.ride_budget import meter_budget
from wattwitness.reference.setup_checks import setup_findings
from wattwitness.workflows.bench_changes import describe_meter
from wattwitness.workflows.safe_names import safe_name
from wattwitness.writers.meter_file import meter_toml

AT_W, AT_RPM = 200.0, 85.0
"""Where a meter's budget is shown when there is no ride: an endurance effort, and the cadence taken where none is."""

LEVEL = 0.95
STATED = ("distribution", "degrees", "origin", "source", "common")
_AT = re.compile(r"(?:\[([\w.]+)\] )?(\w+) must ")
_OF = re.compile(r"\[(budget\.(\w+))\] (?:states|gives) ")


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupShown:
    """One setup; ``meter`` is ``None`` where only the firmware is on record, or where ``wrong`` says why not."""

    setup: Setup
    meter: MeterFile | None = None
    findings: tuple[Notice, ...] = ()
    budget: Budget | None = None
    wrong: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterShown:
    """A meter with its setups, the latest first; the units that it is, and the others; the rides whose reference it
    wrote, and those of which that is not known.
    """

    id: int
    name: str
    setups: tuple[SetupShown, ...]
    units: tuple[tuple[int, str], ...]
    other_units: tuple[tuple[int, str], ...]
    wrote: tuple[KeptRide, ...]
    unknown: tuple[KeptRide, ...]


def meter_shown(bench: Path, meter_id: int) -> MeterShown:
    """Everything about one meter. Raises UnknownName."""
    with catalogue(bench) as connection:
        every, rides = meters_of(connection), rides_of(connection, bench)
    meter = next((one for one in every if one.id == meter_id), None)
    if meter is None:
        raise _no_meter(bench, meter_id)
    units = dict.fromkeys((ride.unit_id, ride.unit) for ride in rides)
    wrote = tuple(ride for ride in rides if ride.reference_meter_id == meter_id)
    is_reference = bool(wrote) or not meter.units
    return MeterShown(
        id=meter.id,
        name=meter.name,
        setups=tuple(_setup_shown(bench, meter, setup, is_reference=is_reference) for setup in meter.setups[::-1]),
        units=tuple(unit for unit in units if unit[1] in meter.units),
        other_units=tuple(unit for unit in units if unit[1] not in meter.units),
        wrote=wrote,
        unknown=tuple(ride for ride in rides if ride.reference_meter_id is None),
    )


def meters_with_rides(bench: Path) -> list[tuple[KeptMeter, int]]:
    """Every meter, and how many rides' references it wrote."""
    with catalogue(bench) as connection:
        every, rides = meters_of(connection), rides_of(connection, bench)
    return [(meter, sum(ride.reference_meter_id == meter.id for ride in rides)) for meter in every]


def _setup_shown(bench: Path, meter: KeptMeter, setup: Setup, *, is_reference: bool) -> SetupShown:
    if setup.described is None:
        return SetupShown(setup=setup)
    try:
        described = load_meter_file(original_path(bench, setup.described.sha256, setup.described.file_name))
    except MeterFileInvalid as error:
        return SetupShown(setup=setup, wrong=error.what)
    return SetupShown(
        setup=setup,
        meter=described,
        findings=setup_findings(described, meter.name, is_reference=is_reference),
        budget=meter_budget(described, at_w=AT_W, at_rpm=AT_RPM, level=LEVEL),
    )


def described_by_form(tables: Mapping[str, Any]) -> MeterFile:
    """A description as a form gives it, checked by the reader of such files.

    Raises MeterFileInvalid, whose ``where`` is the field: its table, a point, its key.
    """
    try:
        return meter_of_tables(tables)
    except MeterFileInvalid as error:
        at, of = _AT.match(error.what), _OF.match(error.what)
        what, where = error.what, None
        if at is not None:
            table, key = at.groups()
            what, where = f"This must {error.what[at.end() :]}", f"{table}.{key}" if table else key
        elif of is not None:
            where = f"{of.group(1)}.standard_uncertainty_{STATED_UNITS[of.group(2)][0]}"
        raise MeterFileInvalid(what, where=where, hint="Leave empty what you do not know.") from error


def write_setup_down(bench: Path, name: str, since_day: str, meter: MeterFile) -> int:
    """Keep a setup as a description of the usual form, in force from a day on; gives the meter's id.

    Raises SettingInvalid, OutputNotWritable.
    """
    return keep_description(bench, name, since_day, meter_toml(replace(meter, name=" ".join(name.split()))))


def keep_description(bench: Path, name: str, since_day: str, text: str) -> int:
    """Keep the text of a description as it is, in force from a day on; gives the meter's id.

    Where no ``name`` is given, that in the description counts. Raises MeterFileInvalid, SettingInvalid,
    OutputNotWritable.
    """
    content = text.encode("utf-8", "replace")
    if len(content) > LIMIT_BYTES:
        raise MeterFileInvalid(
            "This is far too much for a description of a meter.", where="text", hint="Add recordings under “Add rides”."
        )
    called = " ".join((name or parse_meter_file(text).name).split())
    with tempfile.TemporaryDirectory(prefix="wattwitness-") as folder:
        path = Path(folder) / safe_name(f"{called[:60] or 'meter'} {since_day[:10]}".strip() + ".toml")
        path.write_bytes(content)
        describe_meter(bench, called, since_day=since_day, described=path)
    with catalogue(bench) as connection:
        return next(one.id for one in meters_of(connection) if one.name == called)


def setup_text(bench: Path, meter_id: int, setup_id: int) -> bytes:
    """The description of one setup, byte for byte. Raises UnknownName."""
    with catalogue(bench) as connection:
        setups = [setup for meter in meters_of(connection) if meter.id == meter_id for setup in meter.setups]
    described = next((setup.described for setup in setups if setup.id == setup_id), None)
    if described is None:
        raise UnknownName("There is no such description.", where=str(bench), hint="Load the page again.")
    return original_path(bench, described.sha256, described.file_name).read_bytes()


def set_references(bench: Path, meter_id: int, ride_ids: Sequence[int]) -> str:
    """Say which rides' references a meter wrote, in one change; gives its sentence. Raises UnknownName.

    Rides whose reference another meter wrote stay as they are.
    """
    with catalogue(bench, write=True) as connection:
        record = Record(connection)
        name = next((one.name for one in meters_of(connection) if one.id == meter_id), None)
        if name is None:
            raise _no_meter(bench, meter_id)
        changed = 0
        for ride in rides_of(connection, bench):
            if ride.reference_meter_id not in (None, meter_id):
                continue
            wrote = meter_id if ride.id in ride_ids else None
            changed += record.change(RIDES, ride.id, reference_meter_id=wrote)
        said = f"{name} wrote the references of {len(set(ride_ids))} ride{'s' if len(set(ride_ids)) != 1 else ''} now."
        record.done(said)
        return said if changed else "Nothing was changed."


def form_of_meter(meter: MeterFile) -> dict[str, str]:
    """What a form shows of a description, by the fields' names."""
    crank = {
        "set_mm": meter.setup.crank_set_mm,
        "true_mm": meter.setup.crank_true_mm,
        "put_right": meter.put_right_crank,
    }
    setup = (
        "zero_taken",
        "firmware",
        "battery_pct",
        "temperature_c",
        "zero_temperature_c",
        "warm_up_min",
        "hours_since_fitted",
    )
    said: dict[str, object] = {"place": meter.place.value, "sides": meter.sides.value}
    said |= {f"crank.{key}": value for key, value in crank.items()}
    said |= {f"setup.{key}": getattr(meter.setup, key) for key in setup}
    for name, stated in meter.stated.items():
        unit = STATED_UNITS[name][0]
        said[f"budget.{name}.half_width_{unit}"] = stated.half_width
        said[f"budget.{name}.standard_uncertainty_{unit}"] = stated.standard_uncertainty
        said |= {f"budget.{name}.{key}": getattr(stated, key) for key in STATED}
    return {key: _shown(value) for key, value in said.items()}


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def _no_meter(bench: Path, meter_id: int) -> UnknownName:
    return UnknownName(f"There is no meter {meter_id} on the bench.", where=str(bench), hint="Look at the meters.")
