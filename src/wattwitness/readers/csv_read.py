"""A table read into columns, before it is decided which of them are used."""

from __future__ import annotations

import io
from dataclasses import dataclass
from itertools import islice

import numpy as np

from wattwitness.model.errors import FileTooLarge
from wattwitness.readers.csv_body import MAX_ROWS, Body, TooManyRows, read_body
from wattwitness.readers.csv_choose import ChannelChoice, choose_channels
from wattwitness.readers.csv_mapping import ColumnMapping
from wattwitness.readers.csv_plan import Plan, plan_table
from wattwitness.readers.csv_text import TextDamage, TextSource


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """A table as read, before it is decided which of its columns are used."""

    name: str
    plan: Plan
    body: Body
    damage: TextDamage


def read_table(content: bytes, name: str, mapping: ColumnMapping | None) -> TableRead:
    """Find a table and read the columns that may be used. Raises CorruptFile, MappingInvalid or FileTooLarge."""
    plan = plan_table(content, name, mapping)
    source = TextSource(io.BytesIO(content), plan.encoding)
    lines = islice(source.lines(), plan.layout.first_line - 1, None)
    try:
        body = read_body(lines, plan.layout, plan.delimiter, plan.decimal, plan.wanted)
    except TooManyRows as error:
        raise FileTooLarge(
            f"The table has more than {MAX_ROWS:,} rows; no recording of a ride has.",
            where=name,
            hint="Check that this is the recording of one ride.",
        ) from error
    return TableRead(name=name, plan=plan, body=body, damage=source.damage)


def choose_from(table: TableRead) -> ChannelChoice:
    """The columns proposed for a table that was read without a mapping."""
    filled = {
        column: int(np.count_nonzero(np.isfinite(table.body.column(column)[0]))) for column in table.plan.wanted.numbers
    }
    return choose_channels(table.plan.layout.headings, filled)
