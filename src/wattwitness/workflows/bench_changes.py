"""What a tester changes on a bench: each change in one step, on record, and taken back when asked."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

import sqlalchemy as sa

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.meters import KeptMeter, meter_id_of, meters_of, put_setup
from wattwitness.bench.notes import About, Note, notes_about, put_note
from wattwitness.bench.originals import keep
from wattwitness.bench.questions import put_question
from wattwitness.bench.rides import KeptRide, put_original, rides_of, stretch_ids
from wattwitness.bench.tables import NOTES, RIDES, STRETCHES, UNITS
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.ride_list import ListedStudy
from wattwitness.words.numbers import clock_time, number, seconds_offset
from wattwitness.workflows.bench_record import changing

MOST_LETTERS = 200
MOST_NOTE_LETTERS = 20_000
MOST_OFFSET_S = 1e9
YEARS = range(1980, 2101)
"""In which rides may have been recorded; another year is a slip of the keys."""
UNSEEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Signs that no name needs, and that can make a text look like another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RideFacts:
    """What is on record of a ride beside its recordings."""

    name: str
    day: str = ""
    rider: str = ""
    firmware: str = ""
    group: str = ""
    temperature_c: float | None = None


def checked_facts(facts: RideFacts) -> RideFacts:
    """The same facts without unseen signs and needless blanks. Raises SettingInvalid for what cannot be kept."""
    return RideFacts(
        name=_line(facts.name, "name", needed=True),
        day=_day(facts.day),
        rider=_line(facts.rider, "rider"),
        firmware=_line(facts.firmware, "firmware"),
        group=_line(facts.group, "group"),
        temperature_c=_within(facts.temperature_c, -40, 60, "temperature_c", "°C"),
    )


def set_facts(bench: Path, ride_id: int, facts: RideFacts) -> None:
    """Put a ride's facts right. Raises SettingInvalid, UnknownName."""
    checked = checked_facts(facts)
    values = {"ride_group" if key == "group" else key: value for key, value in asdict(checked).items()}
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        twin = sa.select(RIDES.c.id).where(
            RIDES.c.unit_id == ride.unit_id, RIDES.c.name == values["name"], RIDES.c.id != ride_id
        )
        if connection.execute(twin).first() is not None:
            raise SettingInvalid(
                f"{ride.unit} has another ride called “{values['name']}”.",
                where="name",
                hint="Give it a name of its own.",
            )
        record.change(RIDES, ride_id, **values)
        record.done(f"The facts of “{ride.noted.name}” of {ride.unit} were changed.")


def set_offset(bench: Path, ride_id: int, offset_s: float | None) -> None:
    """Give the unit's clock by hand, or (``None``) leave it to be found. Raises SettingInvalid, UnknownName."""
    value = _within(offset_s, -MOST_OFFSET_S, MOST_OFFSET_S, "offset_s", "s")
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        record.change(RIDES, ride_id, offset_s=value)
        said = (
            "is found by the program again" if value is None else f"was given by hand: {seconds_offset(value)} to add"
        )
        record.done(f"The clock of “{ride.noted.name}” of {ride.unit} {said}.")


def set_excluded(bench: Path, ride_id: int, reason: str) -> None:
    """Leave a ride out of its study with a reason, or (empty) let it count. Raises SettingInvalid, UnknownName."""
    why = _line(reason, "reason")
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        record.change(RIDES, ride_id, excluded=why)
        said = f"was left out: {why}" if why else "counts again"
        record.done(f"“{ride.noted.name}” of {ride.unit} {said}.")


def leave_out(bench: Path, ride_id: int, stretch: LeftOutStretch, *, others: Sequence[int] = ()) -> None:
    """Leave a stretch of a ride out with a reason, and of the ``others`` that share its reference's recording.

    Raises SettingInvalid, UnknownName.
    """
    reason = _line(stretch.reason, "reason", needed=True)
    times = (stretch.from_s, stretch.to_s)
    if not all(math.isfinite(at) for at in times) or not 0 <= stretch.from_s < stretch.to_s:
        raise SettingInvalid(
            "A stretch begins at or after the reference’s first sample, and ends after it began.",
            where="from_s, to_s",
            hint="Give both in seconds after the reference’s first sample.",
        )
    with changing(bench) as (connection, record):
        rides = [_ride(connection, bench, one) for one in (ride_id, *others)]
        for ride in rides:
            record.add(STRETCHES, ride_id=ride.id, from_s=stretch.from_s, to_s=stretch.to_s, reason=reason)
        where = f"{clock_time(stretch.from_s)} to {clock_time(stretch.to_s)}"
        record.done(f"{where} of {_together(rides)} was left out: {reason}.")


def take_in_again(
    bench: Path, ride_id: int, place: int, *, from_s: float | None = None, others: Sequence[int] = ()
) -> None:
    """Have a stretch compared again; ``place`` counts from 0 those of ``stretches_out``.

    ``from_s`` is where the stretch began that the tester saw in that place (``None``: not known). Of the ``others`` the
    same stretch is taken in again. Raises UnknownName.
    """
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        ids = stretch_ids(connection, ride_id)
        there = ride.noted.stretches_out[place] if 0 <= place < len(ids) else None
        if there is None or (from_s is not None and abs(there.from_s - from_s) > 0.5):
            raise UnknownName("That stretch is no longer there.", where=ride.noted.name, hint="Load the page again.")
        record.remove(STRETCHES, ids[place])
        rides = [ride]
        for other in (_ride(connection, bench, one) for one in others):
            same = [
                known
                for known, one in zip(stretch_ids(connection, other.id), other.noted.stretches_out, strict=True)
                if one == there
            ]
            for known in same:
                record.remove(STRETCHES, known)
            rides += [other] if same else []
        where = f"{clock_time(there.from_s)} to {clock_time(there.to_s)}"
        record.done(f"{where} of {_together(rides)} is compared again.")


def _together(rides: Sequence[KeptRide]) -> str:
    """``“Monday” of bike A and of bike B``."""
    return f"“{rides[0].noted.name}” of {' and of '.join(ride.unit for ride in rides)}"


def take_off(bench: Path, ride_id: int) -> None:
    """Take a ride off the bench; its originals stay. Raises UnknownName."""
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        for stretch_id in stretch_ids(connection, ride_id):
            record.remove(STRETCHES, stretch_id)
        # The number of a ride that is gone may be given to another one, and its notes must not go with it.
        for note in notes_about(connection, About.RIDE, ride_id):
            record.remove(NOTES, note.id)
        record.remove(RIDES, ride_id)
        record.done(f"“{ride.noted.name}” of {ride.unit} was taken off the bench; its recordings stay.")


def rename_unit(bench: Path, unit_id: int, name: str) -> None:
    """Call a unit otherwise. Raises SettingInvalid, UnknownName."""
    called = _line(name, "name", needed=True)
    with changing(bench) as (connection, record):
        before = _unit_name(connection, bench, unit_id)
        twin = sa.select(UNITS.c.id).where(UNITS.c.name == called, UNITS.c.id != unit_id)
        if connection.execute(twin).first() is not None:
            raise SettingInvalid(
                f"There is another unit called “{called}”.", where="name", hint="Give it a name of its own."
            )
        record.change(UNITS, unit_id, name=called)
        record.done(f"{before} is called {called} now.")


def ask_of_unit(bench: Path, unit_id: int, asked: ListedStudy) -> bool:
    """Keep what is asked of a unit: its claim, rule, groups, threshold, zones and field.

    ``False`` where just that was asked already. Raises UnknownName.
    """
    with changing(bench) as (connection, record):
        unit = _unit_name(connection, bench, unit_id)
        changed = put_question(connection, record, unit_id, asked)
        record.done(f"What is asked of {unit} was changed.")
        return changed


def describe_meter(
    bench: Path, name: str, *, since_day: str = "", firmware: str = "", described: Path | None = None
) -> None:
    """Write down how a meter is set up from a day on; ``described`` is a file of the form for meters, kept as it is.

    Raises SettingInvalid, MeterFileInvalid, FileNotReadable, OutputNotWritable.
    """
    called, since, version = _line(name, "name", needed=True), _day(since_day), _line(firmware, "firmware")
    original = None
    if described is not None:
        from wattwitness.readers.meter_file import load_meter_file

        version = version or load_meter_file(described).setup.firmware
        original = keep(bench, described)
    with changing(bench) as (connection, record):
        if original is not None:
            put_original(connection, original)
        meter_id = meter_id_of(connection, record, called)
        put_setup(connection, record, meter_id, since_day=since, firmware=version, described=original)
        record.done(f"The setup of {called}{f' from {since}' if since else ''} was written down.")


def unit_is_meter(bench: Path, unit_id: int, meter: str) -> None:
    """Say which meter a unit is (empty: none), so that its setup on each day counts. Raises UnknownName."""
    with changing(bench) as (connection, record):
        unit = _unit_name(connection, bench, unit_id)
        record.change(UNITS, unit_id, meter_id=_meter_id(connection, bench, meter))
        record.done(f"{unit} is the meter {meter} now." if meter else f"{unit} is no meter on record now.")


def references_are_meter(bench: Path, meter: str) -> None:
    """Say that one meter wrote the reference of every ride. Raises UnknownName."""
    with changing(bench) as (connection, record):
        meter_id = _meter_id(connection, bench, meter)
        for ride in rides_of(connection, bench):
            record.change(RIDES, ride.id, reference_meter_id=meter_id)
        record.done(f"The reference of every ride is {meter} now.")


def reference_is_meter(bench: Path, ride_id: int, meter: str) -> None:
    """Say which meter wrote a ride's reference (empty: not known). Raises UnknownName."""
    with changing(bench) as (connection, record):
        ride = _ride(connection, bench, ride_id)
        record.change(RIDES, ride_id, reference_meter_id=_meter_id(connection, bench, meter))
        record.done(f"The reference of “{ride.noted.name}” of {ride.unit} is {meter or 'not known'} now.")


def add_note(bench: Path, about: About, about_id: int, text: str) -> None:
    """Keep the tester's own words about something. Raises SettingInvalid."""
    words = UNSEEN.sub("", text.replace("\r\n", "\n")).strip()
    if not words or len(words) > MOST_NOTE_LETTERS:
        raise SettingInvalid(
            "A note holds some words, and at most 20,000 letters.", where="text", hint="Write it shorter, or in parts."
        )
    with changing(bench) as (_connection, record):
        put_note(record, about, about_id, words)
        record.done(f"A note was written: {words.splitlines()[0][:60]}")


def remove_note(bench: Path, note_id: int) -> None:
    """Take a note away. Raises UnknownName."""
    with changing(bench) as (_connection, record):
        record.remove(NOTES, note_id)
        record.done("A note was taken away.")


def notes_of(bench: Path, about: About, about_id: int) -> list[Note]:
    """The tester's notes about one thing, the oldest first."""
    with catalogue(bench) as connection:
        return notes_about(connection, about, about_id)


def rides_on(bench: Path) -> list[KeptRide]:
    """Every ride on the bench, in the order they came."""
    with catalogue(bench) as connection:
        return rides_of(connection, bench)


def meters_on(bench: Path) -> list[KeptMeter]:
    """Every meter on the bench, with its setups over time."""
    with catalogue(bench) as connection:
        return meters_of(connection)


def _ride(connection: sa.Connection, bench: Path, ride_id: int) -> KeptRide:
    found = next((ride for ride in rides_of(connection, bench) if ride.id == ride_id), None)
    if found is None:
        raise UnknownName(
            f"There is no ride {ride_id} on the bench.", where=str(bench), hint="It may have been taken off."
        )
    return found


def _unit_name(connection: sa.Connection, bench: Path, unit_id: int) -> str:
    names = {row.id: row.name for row in connection.execute(sa.select(UNITS.c.id, UNITS.c.name))}
    name = names.get(unit_id)
    if name is None:
        raise UnknownName(f"There is no unit {unit_id} on the bench.", where=str(bench), hint="Look at the bench.")
    return str(name)


def _meter_id(connection: sa.Connection, bench: Path, name: str) -> int | None:
    if not name:
        return None
    found = next((meter.id for meter in meters_of(connection) if meter.name == name), None)
    if found is None:
        raise UnknownName(f"There is no meter “{name}” on the bench.", where=str(bench), hint="Write it down first.")
    return found


def _line(text: str, where: str, *, needed: bool = False) -> str:
    """One line of words without unseen signs. Raises SettingInvalid."""
    words = " ".join(UNSEEN.sub("", text).split())
    if len(words) > MOST_LETTERS or (needed and not words):
        raise SettingInvalid(
            f"“{where}” has {'no words' if not words else 'too many letters'}.",
            where=where,
            hint=f"Give it {'some words' if needed else 'words'}, at most {MOST_LETTERS} letters.",
        )
    return words


def _day(text: str) -> str:
    words = _line(text, "day")
    try:
        day = date.fromisoformat(words) if words else None
        if day is not None and day.year not in YEARS:
            raise ValueError("no ride was recorded then")
        return "" if day is None else day.isoformat()
    except ValueError as error:
        raise SettingInvalid(f"“{words}” is no day.", where="day", hint="Write it as 2026-01-31.") from error


def _within(value: float | None, low: float, high: float, where: str, unit: str) -> float | None:
    if value is not None and not low <= value <= high:
        raise SettingInvalid(
            f"{number(value)} {unit} is outside {number(low, 0)} to {number(high, 0)} {unit}.",
            where=where,
            hint="Give one inside that range.",
        )
    return value
