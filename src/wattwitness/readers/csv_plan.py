"""From the first lines of a table to a plan of how to read it: its text, its place, its time, the columns to keep."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice

from wattwitness.model.errors import CorruptFile, MappingInvalid
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_body import Wanted, has_both_shares
from wattwitness.readers.csv_choose import TimeChoice, choose_time
from wattwitness.readers.csv_columns import Heading
from wattwitness.readers.csv_dialect import Decimal, Delimiter, Split, best_split, guess_decimal
from wattwitness.readers.csv_layout import Layout, find_layout, layout_at
from wattwitness.readers.csv_mapping import ColumnMapping, ColumnRef
from wattwitness.readers.csv_numbers import split_suffix
from wattwitness.readers.csv_text import TextSource, detect_encoding
from wattwitness.readers.csv_time_kinds import TimeAsked, TimeKind
from wattwitness.readers.csv_units import unit_of

HEAD_LINES = 1000
HEAD_CHARS = 2_000_000
SNIFF_BYTES = 65_536


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How to read one table. Columns are counted from 0.

    ``time`` is None where no column can be the time. ``assigned`` is what a mapping says of the channels (empty without
    one). ``cell_units`` are the units that stand in the cells of a column.
    """

    encoding: str
    delimiter: Delimiter
    decimal: Decimal
    layout: Layout
    time: TimeChoice | None
    wanted: Wanted
    cell_units: Mapping[int, str] = field(default_factory=dict)
    assigned: Mapping[ChannelName, tuple[int, ...]] = field(default_factory=dict)


def head_lines(content: bytes, encoding: str) -> list[str]:
    """The first lines of a file, at most ``HEAD_LINES`` and about ``HEAD_CHARS``."""
    lines: list[str] = []
    size = 0
    for line in islice(TextSource(io.BytesIO(content), encoding).lines(), HEAD_LINES):
        lines.append(line)
        size += len(line)
        if size > HEAD_CHARS:
            break
    return lines


def plan_table(content: bytes, name: str, mapping: ColumnMapping | None) -> Plan:
    """Find the table in a file, as a mapping says where there is one. Raises CorruptFile or MappingInvalid."""
    said = mapping or ColumnMapping()
    encoding = said.encoding or detect_encoding(content[:SNIFF_BYTES])
    split = best_split(head_lines(content, encoding), said.delimiter)
    layout = None if split is None else _layout(split, said)
    if split is None or layout is None:
        if mapping is not None:
            what = "The file has no table where the mapping says that there is one."
            raise MappingInvalid(what, where=name, hint="Check [table] delimiter and header_line in the mapping.")
        raise CorruptFile(
            "No table of numbers was found in the first lines of the file.",
            where=name,
            hint="Export the ride again as CSV with one row for each sample and a line of headings above them.",
        )
    decimal = said.decimal or guess_decimal(split)
    sample = _sample_columns(split, layout)
    time = _mapped_time(said, layout, name) if mapping else choose_time(layout.headings, sample, decimal)
    assigned = {channel: tuple(column_of(ref, layout, name) for ref in refs) for channel, refs in said.channels.items()}
    return Plan(
        encoding=encoding,
        delimiter=split.delimiter,
        decimal=decimal,
        layout=layout,
        time=time,
        wanted=_wanted(layout, time, sample, assigned if mapping else None),
        cell_units=_cell_units(sample),
        assigned=assigned,
    )


def _layout(split: Split, said: ColumnMapping) -> Layout | None:
    if said.header_line is not None:
        return layout_at(split, said.header_line)
    return find_layout(split) or layout_at(split, 0)


def _sample_columns(split: Split, layout: Layout) -> list[list[str]]:
    """The cells of each column in the rows of numbers among the first lines."""
    rows = [row for row, data in zip(split.rows, split.data, strict=True) if data][:HEAD_LINES]
    body = [
        split.rows[index]
        for index in range(layout.first_line - 1, len(split.rows))
        if split.data[index] and len(split.rows[index]) >= min(layout.width, 2)
    ]
    rows = list(body or rows)
    return [[row[column] if column < len(row) else "" for row in rows] for column in range(layout.width)]


def _mapped_time(said: ColumnMapping, layout: Layout, name: str) -> TimeChoice:
    if not said.time and said.time_kind is not TimeKind.ROW_NUMBER:
        raise MappingInvalid(
            "The mapping names no time column.",
            where=name,
            hint="Set time in [columns]; or, for a table without times, kind = “row_number” and step_s in [time].",
        )
    offset = None if said.utc_offset_min is None else 60.0 * said.utc_offset_min
    columns = tuple(column_of(ref, layout, name) for ref in said.time)
    hint = layout.headings[columns[-1]].time_hint if columns else None
    if offset is None and columns and layout.headings[columns[-1]].utc:
        offset = 0.0
    asked = TimeAsked(
        kind=said.time_kind, hint=hint, date_order=said.date_order, utc_offset_s=offset, step_s=said.step_s
    )
    return TimeChoice(columns=columns, asked=asked)


def column_of(ref: ColumnRef, layout: Layout, name: str) -> int:
    """The column, counted from 0, that a mapping names by heading or by number from 1. Raises MappingInvalid."""
    hint = f"The file's columns are: {columns_listed(layout.headings)}."
    if isinstance(ref, int):
        if ref > layout.width:
            what = f"The mapping names column {ref}, but the table has {layout.width}."
            raise MappingInvalid(what, where=name, hint=hint)
        return ref - 1
    wanted = ref.strip()
    found = [heading.position for heading in layout.headings if heading.text.strip() == wanted]
    found = found or [
        heading.position for heading in layout.headings if heading.text.strip().casefold() == wanted.casefold()
    ]
    if len(found) == 1:
        return found[0] - 1
    what = f"The mapping names a column “{wanted[:60]}”, " + (
        "which the file has not." if not found else f"which stands {len(found)} times in the file: give its number."
    )
    raise MappingInvalid(what, where=name, hint=hint)


def columns_listed(headings: Sequence[Heading]) -> str:
    """All columns with their numbers, for a hint."""
    shown = [f"{heading.position} {heading.label}" if heading.text.strip() else heading.label for heading in headings]
    return ", ".join(shown[:24]) + (f" and {len(shown) - 24} more" if len(shown) > 24 else "")


def _wanted(
    layout: Layout,
    time: TimeChoice | None,
    sample: Sequence[Sequence[str]],
    assigned: Mapping[ChannelName, tuple[int, ...]] | None,
) -> Wanted:
    """The columns to keep: those of a mapping, else every one that names a channel of its own or one leg's power."""
    times = time.columns if time else ()
    if assigned is not None:
        numbers = {column for columns in assigned.values() for column in columns}
        share_columns = set(assigned.get(ChannelName.LEFT_SHARE, ()))
    else:
        of_channel = [h for h in layout.headings if h.channel]
        numbers = {h.position - 1 for h in of_channel} - set(times)
        share_columns = {h.position - 1 for h in of_channel if h.channel is ChannelName.LEFT_SHARE}
    return Wanted(
        times=times,
        numbers=tuple(sorted(numbers)),
        with_units=frozenset(_cell_units(sample)),
        shares=frozenset(column for column in share_columns if has_both_shares(sample[column])),
    )


def _cell_units(sample: Sequence[Sequence[str]]) -> dict[int, str]:
    """The unit behind the numbers of a column (``200 W``), where more than half of its cells carry one."""
    units: dict[int, str] = {}
    for column, cells in enumerate(sample):
        filled = [cell for cell in cells[:200] if cell.strip()]
        suffix, count = Counter(split_suffix(cell)[1] for cell in filled).most_common(1)[0] if filled else ("", 0)
        if suffix and count > 0.5 * len(filled) and any(unit_of(channel, suffix) for channel in ChannelName):
            units[column] = suffix
    return units
