"""A table of the report for spreadsheets: numbers that they take for numbers, and text that they take for nothing else.

UTF-8 with a byte order mark, without which some spreadsheets show ± and µ as other signs; commas between cells. An
interval becomes two columns; an estimate that stands with its interval and unit in one cell becomes a column each.
"""

from __future__ import annotations

import csv
import io
import re

from wattwitness.model.section import Column, Table
from wattwitness.words.numbers import NBSP
from wattwitness.writers.report_cells import (
    CellParts,
    as_interval,
    as_number,
    missing,
    own_time,
    parts_of,
    signed_quantity,
)
from wattwitness.writers.table_text import harmless

MARK = "\ufeff"
_WITH_ITS_INTERVAL = re.compile(r"(.+) \((.*interval)\)")
_HIDDEN_CELL = re.compile(r"([;\t])(\s*)(?=[=+\-@])")

MEASURED, TIMES = frozenset({"%", "W", "rpm", "N·m", "ppm", "kJ", "°C"}), frozenset({"s", "min", "h"})
"""Units of quantities; durations alone are words, since a longer one is written in two units."""

Cells = list[tuple[str, list[str]]]
"""Columns of the file: heading, and a text for each row."""


def report_table(table: Table) -> bytes:
    """The table as the content of a file."""
    made: Cells = []
    for place, column in enumerate(table.columns):
        made += _columns(column, [row[place] for row in table.rows], names=place == 0)
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([_text(heading) for heading, _ in made])
    writer.writerows(zip(*(cells for _, cells in made), strict=True))
    return (MARK + buffer.getvalue()).encode("utf-8")


def _columns(column: Column, cells: list[str], *, names: bool) -> Cells:
    """What a column of the table becomes; one of ``names`` stays as it is, whatever a tester calls a ride."""
    unit = f", {column.unit}" if column.unit else ""
    if not names:
        ends = [as_interval(cell) for cell in cells]
        only_ends = all(pair or missing(cell) for pair, cell in zip(ends, cells, strict=True))
        if only_ends and (any(ends) or column.heading.endswith("interval")):
            return [
                (f"{column.heading} {name}{unit}", [pair[place] if pair else "" for pair in ends])
                for place, name in enumerate(("from", "to"))
            ]
        parts = [parts_of(cell) for cell in cells]
        if _told_apart(column, cells, parts):
            return _estimates(column, parts)
    return [(f"{column.heading}{unit}", [_cell(cell) for cell in cells])]


def _told_apart(column: Column, cells: list[str], parts: list[CellParts]) -> bool:
    """Whether a column holds estimates with their intervals, or nothing but numbers each with its own unit."""
    if _WITH_ITS_INTERVAL.fullmatch(column.heading) or any(part.estimate for part in parts):
        return True
    if any(signed_quantity(cell) for cell in cells) or any(part.low for part in parts):
        return True
    units = {part.unit for part in parts} - {""}
    return bool(units & MEASURED) and units <= MEASURED | TIMES and not any(part.words for part in parts)


def _estimates(column: Column, parts: list[CellParts]) -> Cells:
    """Value, both ends, unit and words, each where there is any."""
    found = _WITH_ITS_INTERVAL.fullmatch(column.heading)
    value = found.group(1) if found else column.heading
    ends = f"{value} {found.group(2)}" if found else value
    unit = f", {column.unit}" if column.unit else ""
    made: Cells = [(f"{value}{unit}", [part.value for part in parts])]
    if found or any(part.low for part in parts):
        made.append((f"{ends} from{unit}", [part.low for part in parts]))
        made.append((f"{ends} to{unit}", [part.high for part in parts]))
    if any(part.unit for part in parts):
        made.append((f"{value} unit", [_text(part.unit) for part in parts]))
    if any(part.words for part in parts):
        made.append((f"{value} in words", [_cell(part.words) for part in parts]))
    return made


def _cell(text: str) -> str:
    if missing(text):
        return ""
    number = as_number(text) or own_time(text)
    return _text(text) if number is None else number


def _text(text: str) -> str:
    """Text that no spreadsheet works out, not even one that parts cells at semicolons."""
    return _HIDDEN_CELL.sub(r"\1 '", harmless(text.replace(NBSP, " ")))
