"""The rows of a table, read in chunks: the wanted columns kept, the rest dropped as it goes by."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.readers.csv_dialect import Decimal, Delimiter, is_comment, split_lines
from wattwitness.readers.csv_layout import Layout
from wattwitness.readers.csv_numbers import MAX_NUMBER_CHARS, MISSING, ParsedColumn, parse_column

CHUNK_LINES = 8192
CHUNK_CHARS = 1 << 20
MAX_ROWS = 1_000_000
_DIGIT = re.compile(r"[0-9]")
_SHARES = re.compile(r"\s*[lL]?\s*([0-9.,]+)\s*%?\s*[lL]?\s*[/:|\-–]\s*[rR]?\s*[0-9.,]+\s*%?\s*[rR]?\s*")


class TooManyRows(Exception):
    """The table has more rows than any ride."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which columns to keep, counted from 0: times as text, numbers as floats; those whose cells carry their unit,
    and those that give both legs' shares in one cell (``48/52``).
    """

    times: tuple[int, ...]
    numbers: tuple[int, ...]
    with_units: frozenset[int] = frozenset()
    shares: frozenset[int] = frozenset()


@dataclass(slots=True)
class Body:
    """What was read: one entry a row that can be a sample.

    ``words`` says of each row whose first time cell does not begin with a digit how many of its cells are words;
    ``short`` are rows with fewer cells than the table; ``after_header`` are rows that follow a repeated header.
    """

    times: list[list[str]] = field(default_factory=list)
    numbers: dict[int, list[ParsedColumn]] = field(default_factory=dict)
    rows: int = 0
    words: dict[int, int] = field(default_factory=dict)
    short: set[int] = field(default_factory=set)
    after_header: set[int] = field(default_factory=set)
    repeated_headers: int = 0
    comments: int = 0
    too_wide: int = 0
    text_rows: int = 0

    def column(self, index: int) -> tuple[FloatArray, BoolArray, str]:
        """Values of a column, shape (rows,), which of its cells were neither numbers nor empty, and one of those."""
        parts = self.numbers[index]
        values = np.concatenate([part.values for part in parts]) if parts else np.empty(0)
        unreadable = np.zeros(values.size, dtype=np.bool_)
        start = 0
        for part in parts:
            unreadable[[start + row for row in part.unreadable]] = True
            start += part.values.size
        return values, unreadable, next((part.example for part in parts if part.example), "")


def read_body(lines: Iterator[str], layout: Layout, delimiter: Delimiter, decimal: Decimal, wanted: Wanted) -> Body:
    """Read the lines below the headings. Raises TooManyRows."""
    body = Body(times=[[] for _ in wanted.times], numbers={column: [] for column in wanted.numbers})
    while chunk := _next_chunk(lines):
        rows = split_lines(chunk, delimiter)
        if not _is_plain(rows, layout.width, wanted):
            rows = list(_samples(rows, layout, wanted, body))
        _keep(rows, wanted, decimal, body)
        if body.rows > MAX_ROWS:
            raise TooManyRows
    return body


def _next_chunk(lines: Iterator[str]) -> list[str]:
    """The next lines, bounded in number and in size, so that very wide rows do not fill the memory."""
    chunk: list[str] = []
    size = 0
    for line in islice(lines, CHUNK_LINES):
        chunk.append(line)
        size += len(line)
        if size > CHUNK_CHARS:
            break
    return chunk


def _is_plain(rows: Sequence[Sequence[str]], width: int, wanted: Wanted) -> bool:
    """Whether every row is full and begins its time with a digit, so that nothing in the chunk needs a closer look."""
    if not wanted.times or any(len(row) != width for row in rows):
        return False
    column = wanted.times[0]
    return all(row[column][:1].isdigit() for row in rows)


def _samples(rows: Sequence[list[str]], layout: Layout, wanted: Wanted, body: Body) -> Iterator[list[str]]:
    """Yield the rows that can be samples, each as wide as the table; count and mark what is odd."""
    index = body.rows
    header = tuple(cell.casefold() for cell in layout.cells)
    for cells in rows:
        while len(cells) > layout.width and not cells[-1].strip():
            cells.pop()
        if not any(cell.strip() for cell in cells):
            continue
        if header and tuple(cell.strip().casefold() for cell in cells[: len(header)]) == header:
            body.repeated_headers += 1
            body.after_header.add(index)
            continue
        if is_comment(cells):
            body.comments += 1
            continue
        if len(cells) > layout.width:
            body.too_wide += 1
            continue
        if not wanted.times and _is_text(cells, wanted):
            body.text_rows += 1
            continue
        if len(cells) < layout.width:
            body.short.add(index)
            cells.extend([""] * (layout.width - len(cells)))
        if wanted.times and not cells[wanted.times[0]].strip()[:1].isdigit():
            body.words[index] = sum(_is_word(cell) for cell in cells)
        index += 1
        yield cells


def _is_word(cell: str) -> bool:
    return not _DIGIT.search(cell) and cell.strip().lower() not in MISSING


def _is_text(cells: Sequence[str], wanted: Wanted) -> bool:
    """Where there are no times: a row of words with no number in any wanted column."""
    inside = [cells[column] for column in wanted.numbers if column < len(cells)]
    return not any(_DIGIT.search(cell) for cell in inside) and any(_is_word(cell) for cell in cells)


def _keep(rows: Sequence[Sequence[str]], wanted: Wanted, decimal: Decimal, body: Body) -> None:
    for place, column in enumerate(wanted.times):
        body.times[place].extend([row[column] for row in rows])
    for column in wanted.numbers:
        cells = [row[column] for row in rows]
        if column in wanted.shares:
            cells = [_left_part(cell) for cell in cells]
        body.numbers[column].append(parse_column(cells, decimal, suffix=column in wanted.with_units))
    body.rows += len(rows)


def _left_part(cell: str) -> str:
    match = _SHARES.fullmatch(cell) if len(cell) <= MAX_NUMBER_CHARS else None
    return match.group(1) if match else cell


def sample_mask(time_s: FloatArray, body: Body) -> tuple[BoolArray, int]:
    """Which rows are samples: those with a time, but for blocks below a foreign heading or label.

    A row of words in the middle of a table is the mark of a stage, the label of a sum, or the heading of another table.
    What follows it counts only if it holds at least three full rows with rising times; after a row with two words or
    more, which heads a table of its own, the times must also go on where the samples ended. Returns the mask, shape
    (rows,), and how many rows with a time were left out.
    """
    mask: BoolArray = np.isfinite(time_s)
    marks = [row for row in sorted(body.words) if body.words[row] >= 1 and not np.isfinite(time_s[row])]
    if body.short and marks:
        mask[[row for row in body.short if row >= marks[0]]] = False
    timed = int(np.count_nonzero(mask))
    # Where every few rows are words, these are remarks and no marks.
    remarks = len(marks) > 0.1 * timed
    ends = np.array(sorted({*marks, *body.after_header, body.rows}))
    foreign, last, newest_s, seen = False, -2, -np.inf, 0
    for mark in marks:
        before = time_s[seen:mark][mask[seen:mark]]
        newest_s, seen = (float(before[-1]) if before.size else newest_s), mark
        foreign = body.words[mark] >= 2 or (foreign and mark == last + 1)
        last = mark
        if remarks and not foreign:
            continue
        block = np.arange(mark + 1, int(ends[np.searchsorted(ends, mark, side="right")]))
        kept = time_s[block[mask[block]]]
        rising = kept.size >= 3 and bool(np.all(np.diff(kept) >= 0))
        if not rising or (foreign and kept[0] <= newest_s):
            mask[block] = False
    return mask, int(np.count_nonzero(np.isfinite(time_s) & ~mask))


def has_both_shares(cells: Sequence[str]) -> bool:
    """Whether most cells give both legs' shares, as ``48/52``."""
    filled = [cell for cell in cells if cell.strip().lower() not in MISSING]
    return bool(filled) and sum(_left_part(cell) != cell for cell in filled) > 0.5 * len(filled)
