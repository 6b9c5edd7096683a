"""A table of the report for spreadsheets: numbers that they take for numbers, and text that they take for nothing else.

UTF-8 with a byte order mark, without which some spreadsheets show ± and µ as other signs; commas between cells. An
interval becomes two columns.
"""

from __future__ import annotations

import csv
import io
import re

from wattwitness.model.section import Column, Table
from wattwitness.words.numbers import ABSENT, MINUS, NBSP
from wattwitness.writers.table_text import harmless

MARK = "\ufeff"
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_INTERVAL = re.compile(r"(.+) to (.+)")
_HIDDEN_CELL = re.compile(r"([;\t])(\s*)(?=[=+\-@])")
INFINITE = {"∞": "inf", "+∞": "inf", f"{MINUS}∞": "-inf"}


def report_table(table: Table) -> bytes:
    """The table as the content of a file."""
    columns = [_column(column, [row[place] for row in table.rows]) for place, column in enumerate(table.columns)]
    parts = [part for column in columns for part in column]
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([_text(heading) for heading, _ in parts])
    writer.writerows(zip(*(cells for _, cells in parts), strict=True))
    return (MARK + buffer.getvalue()).encode("utf-8")


def _column(column: Column, cells: list[str]) -> list[tuple[str, list[str]]]:
    """Heading and cells of a column; of one that holds intervals, those of its two ends."""
    unit = f", {column.unit}" if column.unit else ""
    ends = [_ends(cell) for cell in cells]
    if any(ends) and all(pair or cell.strip() in ("", ABSENT) for pair, cell in zip(ends, cells, strict=True)):
        return [
            (f"{column.heading} {name}{unit}", [pair[place] if pair else "" for pair in ends])
            for place, name in enumerate(("from", "to"))
        ]
    return [(f"{column.heading}{unit}", [_cell(cell) for cell in cells])]


def _ends(cell: str) -> tuple[str, str] | None:
    """Both ends of ``−4.8 to −3.8``."""
    found = _INTERVAL.fullmatch(cell)
    low, high = (as_number(part) for part in found.groups()) if found else (None, None)
    return None if low is None or high is None else (low, high)


def _cell(text: str) -> str:
    if text.strip() == ABSENT:
        return ""
    number = as_number(text)
    return _text(text) if number is None else number


def as_number(text: str) -> str | None:
    """``text`` as a number that every program reads, if it is one: ``−4.3`` is ``-4.3``, ``12 000`` is ``12000``."""
    text = text.strip()
    if text in INFINITE:
        return INFINITE[text]
    bare = text.replace(NBSP, "").replace(MINUS, "-").removeprefix("+")
    return bare if _NUMBER.fullmatch(bare) else None


def _text(text: str) -> str:
    """Text that no spreadsheet works out, not even one that parts cells at semicolons."""
    return _HIDDEN_CELL.sub(r"\1 '", harmless(text.replace(NBSP, " ")))
