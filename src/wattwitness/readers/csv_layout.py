"""Where a table stands in its file: what comes before it, its headings over one line or two, its first row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wattwitness.readers.csv_columns import Heading, read_heading
from wattwitness.readers.csv_dialect import Split, is_comment, is_value
from wattwitness.readers.csv_numbers import MISSING
from wattwitness.readers.csv_units import is_unit

_COMMENT_MARKS = "#%/ \t"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """The place of the table: ``header_line`` and ``first_line`` (of the body) count lines of the file from 1.

    ``header_line`` is 0 where the table has no headings. ``cells`` are the headings as written, to know them again.
    """

    headings: tuple[Heading, ...]
    cells: tuple[str, ...]
    header_line: int
    first_line: int

    @property
    def width(self) -> int:
        """How many columns the table has."""
        return len(self.headings)

    @property
    def unheaded(self) -> int:
        """How many columns the rows have beyond the headings; these may then stand over the wrong columns."""
        return self.width - len(self.cells) if self.cells else 0

    def named(self) -> tuple[bool, int]:
        """Whether the headings name a time and a channel, and how many different channels they name."""
        channels = {heading.channel for heading in self.headings if heading.channel and not heading.aside}
        return any(heading.time for heading in self.headings) and bool(channels), len(channels)


def layout_at(split: Split, header_line: int) -> Layout | None:
    """The table whose headings stand in a given line (0: it has none); None if there is no table below it."""
    start = header_line
    if header_line > len(split.rows):
        return None
    first = next((index for index in range(start, len(split.rows)) if split.data[index]), None)
    if first is None:
        return None
    if header_line == 0:
        width = len(split.rows[first])
        headings = tuple(Heading(position=column + 1, text="") for column in range(width))
        return Layout(headings=headings, cells=(), header_line=0, first_line=first + 1)
    return _layout(split, header_line - 1, first)


def find_layout(split: Split) -> Layout | None:
    """The table that names a time and a channel, the longest of several; else the longest one of any headings.

    None where no row of numbers has a row of words above it.
    """
    header_indices = [index for index in range(len(split.rows)) if _can_be_header(split, index)]
    best: tuple[tuple[bool, int, int], Layout] | None = None
    for index in header_indices:
        nearby = range(index + 1, min(index + 11, len(split.rows)))
        first = next((row for row in nearby if split.data[row]), None)
        if first is None:
            continue
        end = next((other for other in header_indices if other > first), len(split.rows))
        layout = _layout(split, index, first)
        usable, channels = layout.named()
        rows = sum(split.data[first:end])
        if best is None or (usable, rows, channels) > best[0]:
            best = ((usable, rows, channels), layout)
    return None if best is None else best[1]


def _trimmed(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def _header_cells(cells: Sequence[str]) -> list[str]:
    """Heading cells without the comment sign that some programs put before them, nor empty ones at the end."""
    kept = _trimmed(cells)
    if kept and is_comment(kept):
        kept[0] = kept[0].lstrip(_COMMENT_MARKS)
        if not kept[0]:
            kept = kept[1:]
    return [cell.strip() for cell in kept]


def _can_be_header(split: Split, index: int) -> bool:
    """Two words or more and no more values than words; not the row of units below another header."""
    cells = [cell for cell in _header_cells(split.rows[index]) if cell.strip().lower() not in MISSING]
    if split.data[index] or len(cells) < 2:
        return False
    words = sum(not is_value(cell) for cell in cells)
    if sum(any(char.isalpha() for char in cell) or cell in "%°" for cell in cells) < 2 or words < len(cells) - words:
        return False
    return not (index > 0 and _is_units_row(split, index) and len(_header_cells(split.rows[index - 1])) >= 2)


def _is_units_row(split: Split, index: int) -> bool:
    cells = [cell.strip().strip("[](){}") for cell in split.rows[index] if cell.strip()]
    if not cells or split.data[index] or any(is_value(cell) for cell in cells):
        return False
    known = sum(is_unit(cell) for cell in cells)
    above = _header_cells(split.rows[index - 1]) if index else []
    return known >= 0.5 * len(cells) and sum(is_unit(cell) for cell in above) < len(above) and len(above) >= len(cells)


def _layout(split: Split, index: int, first: int) -> Layout:
    cells = _header_cells(split.rows[index])
    units: list[str] = []
    if index + 1 < first and _is_units_row(split, index + 1):
        units = list(split.rows[index + 1])
    names = _with_groups(cells, split.rows[index - 1]) if index else list(cells)
    width = max(len(cells), len(_trimmed(split.rows[first])))
    names += [""] * (width - len(names))
    units += [""] * (width - len(units))
    headings = tuple(
        read_heading(column + 1, name, unit) for column, (name, unit) in enumerate(zip(names, units, strict=False))
    )
    return Layout(headings=headings, cells=tuple(cells), header_line=index + 1, first_line=first + 1)


def _with_groups(cells: list[str], above: Sequence[str]) -> list[str]:
    """Headings that stand twice, told apart by the groups in the line above them (``Bike,,,Pedals,,``)."""
    groups, group = [], ""
    for cell in above[: len(cells)]:
        group = cell.strip() or group
        groups.append(group)
    filled = [cell for cell in above if cell.strip()]
    if len(set(cells)) == len(cells) or len(filled) < 2 or len(above) < len(cells) or is_comment(above):
        return list(cells)
    return [
        f"{group} {cell}".strip() if cells.count(cell) > 1 else cell for cell, group in zip(cells, groups, strict=False)
    ]
