"""The columns of a table as the tester confirms them: shown with their first rows, saved as a column mapping.

What is confirmed for one table is used for every other with the same headings.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import get_args

from wattwitness.model.errors import MappingInvalid
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_columns import Heading, shown
from wattwitness.readers.csv_dialect import Decimal, best_split
from wattwitness.readers.csv_mapping import ColumnMapping, load_mapping
from wattwitness.readers.csv_plan import Plan, head_lines, plan_table
from wattwitness.readers.csv_propose import MappingProposal, propose_mapping
from wattwitness.readers.csv_time_kinds import DateOrder, TimeKind
from wattwitness.readers.csv_units import UNITS, unit_of
from wattwitness.readers.open import TABLE, open_file, read_recordings
from wattwitness.workflows.incoming import arrival_of, not_writable, path_of_arrival
from wattwitness.workflows.incoming_read import forget_tables, mapping_path, table_headings
from wattwitness.workflows.saved_words import put_text

TIME = "time"
FIRST_ROWS = 6
LONGEST_STEP_S = 3600.0
MOST_OFFSET_MIN = 14 * 60
QUANTITIES = {
    ChannelName.POWER: "power",
    ChannelName.CADENCE: "cadence",
    ChannelName.HEART_RATE: "heart rate",
    ChannelName.TORQUE: "torque",
    ChannelName.RESISTANCE: "resistance setting",
    ChannelName.SPEED: "speed",
    ChannelName.TEMPERATURE: "temperature",
    ChannelName.LEFT_SHARE: "share of the left leg",
}
TIME_WORDS = {
    TimeKind.DATE_TIME: "date and time of day",
    TimeKind.CLOCK: "time of day, without a date",
    TimeKind.ELAPSED: "time since the start, as h:mm:ss or m:ss",
    TimeKind.ELAPSED_H_MM: "time since the start, as h:mm",
    TimeKind.SECONDS: "seconds since the start",
    TimeKind.MILLISECONDS: "milliseconds since the start",
    TimeKind.MICROSECONDS: "microseconds since the start",
    TimeKind.MINUTES: "minutes since the start",
    TimeKind.HOURS: "hours since the start",
    TimeKind.DAYS: "days since the start",
    TimeKind.EPOCH_S: "seconds since 1970",
    TimeKind.EPOCH_MS: "milliseconds since 1970",
    TimeKind.EPOCH_US: "microseconds since 1970",
    TimeKind.EPOCH_NS: "nanoseconds since 1970",
    TimeKind.SERIAL_DAYS: "days, as spreadsheets count dates",
    TimeKind.ROW_NUMBER: "no time in the table: its rows are evenly spaced",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its heading or number, its first cells, and what it is taken for (empty: not used)."""

    label: str
    cells: tuple[str, ...]
    meaning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnsShown:
    """A table as it is shown to be confirmed; ``time_kind`` is empty where the program finds it by itself.

    ``said`` is what was confirmed before of a table with the same headings.
    """

    columns: tuple[Column, ...]
    time_kind: str
    time_kinds: tuple[str, ...]
    said: ColumnMapping | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnsSaid:
    """What the tester says: a meaning for each column, what the time counts, how far apart rows without one are.

    ``utc_offset_min`` is how far the table's clock is ahead of UTC, ``decimal`` the sign before decimals; both are
    found by the program where they are not said.
    """

    meanings: tuple[str, ...]
    time_kind: str = ""
    step_s: float | None = None
    date_order: str = ""
    utc_offset_min: float | None = None
    decimal: str = ""


def meanings() -> list[tuple[str, str]]:
    """What a column can be taken for: each meaning with its words, a quantity in each of its units."""
    found = [("", "not used"), (TIME, "time")]
    for channel, words in QUANTITIES.items():
        first: dict[str, str] = {}
        for spelling, unit in UNITS[channel].items():
            first.setdefault(unit.symbol, spelling)
        for symbol, spelling in first.items():
            found.append((f"{channel}|{spelling}", f"{words}, {symbol}" if symbol else words))
    return found


def show_columns(bench: Path, batch: str, file: str) -> ColumnsShown:
    """The columns of a table of a batch, as they would be read. Raises UnknownName, MappingInvalid, CorruptFile."""
    path = path_of_arrival(bench, batch, arrival_of(bench, batch, file))
    opened, reader, _ = open_file(path)
    if reader.name != TABLE:
        raise MappingInvalid(
            f"A {reader.title} says itself what its values are; it needs no columns confirmed.",
            where=path.name,
            hint="Go back to the files.",
        )
    plan, proposal = plan_table(opened.content, path.name, None), propose_mapping(opened)
    there = mapping_path(bench, table_headings(path)[1])
    before = load_mapping(there) if there.is_file() else None
    said = {} if before is None else _said_before(before)
    cells = _first_cells(plan, opened.content)
    columns = tuple(
        Column(
            label=heading.label,
            cells=cells[number],
            meaning=said.get(heading.position, "") if said else _meaning(heading, proposal),
        )
        for number, heading in enumerate(plan.layout.headings)
    )
    found = proposal.time_kind if before is None or before.time_kind is None else before.time_kind
    kind = "" if found is None else found.value
    kinds = tuple(one.value for one in proposal.time_kinds) or tuple(one.value for one in TimeKind)
    return ColumnsShown(columns=columns, time_kind=kind, time_kinds=kinds, said=before)


def _said_before(mapping: ColumnMapping) -> dict[int, str]:
    """The meaning of each column, by its number, of a mapping that was saved."""
    found = {ref: TIME for ref in mapping.time if isinstance(ref, int)}
    known = dict(meanings())
    for channel, refs in mapping.channels.items():
        unit = unit_of(channel, mapping.units.get(channel, ""))
        for ref in refs:
            meaning = next((m for m in known if m.startswith(f"{channel}|") and _unit_in(m) == unit), "")
            if isinstance(ref, int):
                found[ref] = meaning
    return found


def _unit_in(meaning: str) -> object:
    channel, _, spelling = meaning.partition("|")
    return unit_of(ChannelName(channel), spelling)


def _meaning(heading: Heading, proposal: MappingProposal) -> str:
    if heading in proposal.time:
        return TIME
    for channel, chosen in proposal.channels.items():
        if chosen.position == heading.position:
            unit = unit_of(channel, heading.unit)
            first = next(iter(UNITS[channel]))
            return next((m for m, _ in meanings() if _fits(m, channel, unit)), f"{channel}|{first}")
    return ""


def _fits(meaning: str, channel: ChannelName, unit: object) -> bool:
    return meaning.startswith(f"{channel}|") and unit is not None and _unit_in(meaning) == unit


def _first_cells(plan: Plan, content: bytes) -> list[tuple[str, ...]]:
    """The first cells of each column, as text of a readable length."""
    split = best_split(head_lines(content, plan.encoding), plan.delimiter)
    start = plan.layout.first_line - 1
    rows = [] if split is None else split.rows[start : start + FIRST_ROWS]
    return [
        tuple(shown(row[column]) if column < len(row) else "" for row in rows) for column in range(plan.layout.width)
    ]


def save_columns(bench: Path, batch: str, file: str, said: ColumnsSaid) -> None:
    """Read the table as the tester says, and remember that for every table with the same headings.

    Nothing is remembered of what cannot be read. Raises UnknownName, MappingInvalid, ColumnsUnclear, NoSamples, ….
    """
    path = path_of_arrival(bench, batch, arrival_of(bench, batch, file))
    headings, key = table_headings(path)
    text = mapping_text(headings, said)
    with tempfile.TemporaryDirectory(prefix="wattwitness-") as folder:
        tried = Path(folder) / "columns.toml"
        tried.write_text(text, encoding="utf-8")
        read_recordings(path, mapping=tried)
    there = mapping_path(bench, key)
    try:
        there.parent.mkdir(parents=True, exist_ok=True)
        put_text(there, text)
    except OSError as error:
        raise not_writable(bench, error) from error
    forget_tables(bench, batch)


def mapping_text(headings: Sequence[Heading], said: ColumnsSaid) -> str:
    """What the tester says as the text of a column mapping. Raises MappingInvalid where it does not hold together."""
    known = dict(meanings())
    fits = len(said.meanings) == len(headings) and said.decimal in ("", *get_args(Decimal))
    if not fits or any(meaning not in known for meaning in said.meanings):
        raise _unusable("What was chosen does not fit the table.", "Load the page again.")
    times = [heading.position for heading, is_a in zip(headings, said.meanings, strict=True) if is_a == TIME]
    kind = _time_kind(said, has_time=bool(times))
    by_channel: dict[str, list[int]] = {}
    units: dict[str, str] = {}
    for heading, meaning in zip(headings, said.meanings, strict=True):
        channel, bar, spelling = meaning.partition("|")
        if not bar:
            continue
        if units.setdefault(channel, spelling) != spelling:
            quantity = QUANTITIES[ChannelName(channel)]
            raise _unusable(f"Two columns are {quantity} in different units.", "Give both the same, or use one.")
        by_channel.setdefault(channel, []).append(heading.position)
    if not by_channel:
        raise _unusable("No column is taken for power or anything else.", "Say at least which one is the power.")
    lines = ["# Columns by their number, as they were confirmed:"]
    lines += [f"#   {heading.position}: {heading.label}" for heading in headings]
    if said.decimal:
        lines += ["[table]", f"decimal = {json.dumps(said.decimal)}"]
    lines += ["[time]", *([f'kind = "{kind}"'] if kind else [])]
    if said.utc_offset_min is not None:
        lines.append(f"utc_offset_min = {_offset(said.utc_offset_min)!r}")
    if kind == TimeKind.ROW_NUMBER:
        lines.append(f"step_s = {float(said.step_s or 1.0)!r}")
    if said.date_order in set(DateOrder):
        lines.append(f'date_order = "{said.date_order}"')
    lines.append("[columns]")
    if times and kind != TimeKind.ROW_NUMBER:
        lines.append(f"time = {times if len(times) > 1 else times[0]}")
    lines += [f"{channel} = {places if len(places) > 1 else places[0]}" for channel, places in by_channel.items()]
    lines += ["[units]", *(f"{channel} = {json.dumps(spelling)}" for channel, spelling in units.items())]
    return "\n".join(lines) + "\n"


def _offset(minutes: float) -> float:
    if not abs(minutes) <= MOST_OFFSET_MIN:
        raise _unusable("No clock on Earth is so far from UTC.", "Give the minutes, such as 120, or leave it empty.")
    return float(minutes)


def _time_kind(said: ColumnsSaid, *, has_time: bool) -> str:
    if said.time_kind and said.time_kind not in set(TimeKind):
        raise _unusable("What the time counts is none that is known.", "Load the page again.")
    if not has_time and said.time_kind not in ("", TimeKind.ROW_NUMBER):
        raise _unusable("No column is taken for the time.", "Say which one it is, or that there is none.")
    kind = said.time_kind if has_time else TimeKind.ROW_NUMBER.value
    if kind == TimeKind.ROW_NUMBER and not (said.step_s is not None and 0.01 <= said.step_s <= LONGEST_STEP_S):
        raise _unusable(
            "The table has no time, and how far apart its rows are is not said.",
            "Give the seconds from one row to the next, from 0.01 to 3600; or say which column is the time.",
        )
    return kind


def _unusable(what: str, hint: str) -> MappingInvalid:
    return MappingInvalid(what, where="columns", hint=hint)
