"""How the cells of a table are parted and how its numbers are written, told from a sample of its lines."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wattwitness.readers.csv_numbers import MAX_NUMBER_CHARS, MISSING, is_number, split_suffix
from wattwitness.readers.csv_stamps import stamp_form
from wattwitness.readers.csv_units import is_unit

Delimiter = Literal[",", ";", "\t", "|", " "]
Decimal = Literal[".", ","]

DELIMITERS: tuple[Delimiter, ...] = (";", "\t", "|", ",", " ")
"""In the order of preference where two part the lines equally well; the blank stands for a run of blanks."""

_COMMENT_SIGNS = ("#", "%", "//")
_TWO_BLANKS = re.compile(r"[ \t]{2,}|\t")
_PLAIN = re.compile(r"-?[0-9]+(?:[.,:][0-9]+)?")
_SHARES = re.compile(r"\s*[0-9.,]+\s*%?\s*/\s*[0-9.,]+\s*%?\s*")
_COMMA_DECIMAL = re.compile(r"[+-−]?(?:\d+,(?:\d{1,2}|\d{4,})|0,\d+|\d{4,},\d+|\d{1,3}(?:\.\d{3})+,\d+)")
_COMMA_THREE = re.compile(r"[+-−]?\d{1,3}(?:,\d{3})+")
_POINT_DECIMAL = re.compile(r"[+-−]?(?:\d+\.(?:\d{1,2}|\d{4,})|0\.\d+|\d{1,3}(?:,\d{3})+\.\d+)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Split:
    """Lines parted by one delimiter: ``data`` says of each whether most of its cells are numbers or times."""

    delimiter: Delimiter
    rows: tuple[tuple[str, ...], ...]
    data: tuple[bool, ...]


def split_lines(lines: Sequence[str], delimiter: Delimiter) -> list[list[str]]:
    """Part each line into cells, one row for each line, quotes taken off.

    A quote that is not closed on its line is kept as a sign like any other: otherwise it would swallow what follows.
    """
    if delimiter == " ":
        return [_split_blanks(line) for line in lines]
    quoted = any('"' in line for line in lines)
    if not quoted:
        return list(csv.reader(lines, delimiter=delimiter, quoting=csv.QUOTE_NONE))
    if not any(line.count('"') % 2 for line in lines):
        together = list(csv.reader(lines, delimiter=delimiter, skipinitialspace=True))
        if len(together) == len(lines):
            return together
    rows: list[list[str]] = []
    for line in lines:
        balanced = line.count('"') % 2 == 0
        parsed = list(
            csv.reader(
                [line],
                delimiter=delimiter,
                quoting=csv.QUOTE_MINIMAL if balanced else csv.QUOTE_NONE,
                skipinitialspace=True,
            )
        )
        rows.append(parsed[0] if parsed else [])
    return rows


def _split_blanks(line: str) -> list[str]:
    text = line.strip()
    if not text:
        return []
    return _TWO_BLANKS.split(text) if _TWO_BLANKS.search(text) else text.split()


def is_comment(cells: Sequence[str]) -> bool:
    """Whether a line is a comment."""
    return bool(cells) and cells[0].lstrip().startswith(_COMMENT_SIGNS)


def is_value(cell: str) -> bool:
    """Whether a cell is a number, alone or before a known unit, or a time."""
    if _PLAIN.fullmatch(cell):
        return True
    if len(cell) > MAX_NUMBER_CHARS:
        return False
    if is_number(cell) or stamp_form(cell) is not None or _SHARES.fullmatch(cell):
        return True
    number, suffix = split_suffix(cell)
    return bool(suffix) and is_unit(suffix) and is_number(number)


def is_data(cells: Sequence[str]) -> bool:
    """Whether a row of cells is one of a table of numbers: two or more values, and more values than words."""
    filled = [cell for cell in cells if _PLAIN.fullmatch(cell) or cell.strip().lower() not in MISSING]
    if len(cells) < 2 or not filled or is_comment(cells):
        return False
    values = sum(is_value(cell) for cell in filled)
    return values >= 1 and values + len(cells) - len(filled) >= 2 and values > 0.5 * len(filled)


def best_split(lines: Sequence[str], asked: Delimiter | None = None) -> Split | None:
    """The lines parted by the delimiter ``asked`` for, or by the one that gives most rows of numbers; else None.

    Every delimiter is tried on up to 400 lines spread over the sample.
    """
    if asked is None:
        step = max(1, len(lines) // 400)
        spread = [*lines[:50], *lines[50::step]]
        scores = {delimiter: _score(split_lines(spread, delimiter)) for delimiter in DELIMITERS}
        best = max(DELIMITERS, key=lambda delimiter: (*scores[delimiter][:2], delimiter != " ", scores[delimiter][2]))
        if scores[best][0] == 0:
            return None
    else:
        best = asked
    rows = tuple(tuple(row) for row in split_lines(lines, best))
    return Split(delimiter=best, rows=rows, data=tuple(is_data(row) for row in rows))


def _score(rows: Sequence[Sequence[str]]) -> tuple[int, float, int]:
    """How many rows of numbers have the commonest width, which share of their cells are values, and that width."""
    widths: dict[int, list[float]] = {}
    for row in rows:
        if is_data(row):
            widths.setdefault(len(row), []).append(sum(is_value(cell) for cell in row) / len(row))
    if not widths:
        return 0, 0.0, 0
    width = max(widths, key=lambda item: (len(widths[item]), item))
    return len(widths[width]), round(sum(widths[width]) / len(widths[width]), 1), width


def guess_decimal(split: Split) -> Decimal:
    """Whether numbers have a decimal point or a decimal comma.

    A comma before three digits parts thousands where the table also has decimal points or is itself parted by commas;
    otherwise it is the decimal sign.
    """
    three = False
    points = commas = 0
    for row, data in zip(split.rows, split.data, strict=True):
        if not data:
            continue
        for text in [cell.strip() for cell in row if "," in cell or "." in cell]:
            commas += bool(_COMMA_DECIMAL.fullmatch(text))
            points += bool(_POINT_DECIMAL.fullmatch(text))
            three = three or bool(_COMMA_THREE.fullmatch(text))
    if commas or points:
        return "," if commas > points else "."
    return "," if three and split.delimiter != "," else "."
