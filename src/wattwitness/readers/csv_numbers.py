"""Cells of a table into numbers. Nothing in a cell is ever evaluated: what is no number is text."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray

MISSING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "–",
        "—",
        "n/a",
        "na",
        "#n/a",
        "n.a.",
        "nan",
        "null",
        "none",
        "nil",
        "?",
        ".",
        "*",
        "missing",
    }
)

MAX_NUMBER_CHARS = 60
"""Longer cells are no numbers; it also bounds the work of the patterns."""

LARGEST = 1e19
"""Above nanoseconds since 1970; nothing in a table of a ride is larger, and sums of such numbers overflow."""

_GROUP = "[ \u00a0\u202f\u2009'’]"
_EXPONENT = r"(?:[eE][+-]?[0-9]{1,3})?"
_SIGN = "([+-]?)"
_POINT = re.compile(
    rf"{_SIGN}([0-9]+(?:{_GROUP}[0-9]{{3}})*|[0-9]{{1,3}}(?:,[0-9]{{3}})+|(?=\.[0-9]))"
    rf"((?:\.[0-9]*)?{_EXPONENT})"
)
_COMMA = re.compile(
    rf"{_SIGN}([0-9]+(?:{_GROUP}[0-9]{{3}})*|[0-9]{{1,3}}(?:\.[0-9]{{3}})+|(?=,[0-9]))"
    rf"((?:,[0-9]*)?{_EXPONENT})"
)
_PLAIN = re.compile(r"-?[0-9]+(?:[.,][0-9]+)?")
_DIGIT = re.compile("[0-9]")
_NOT_DIGIT = re.compile("[^0-9]")
_WITH_SUFFIX = re.compile(r"(.*?[0-9.,])\s*([^0-9\s.,][^0-9]{0,11}|[^0-9\s.,]?/[0-9]?\s?[a-zA-Z]{1,4})")
_UNUSUAL = re.compile("[_\u0660-\uffff]")


@dataclass(frozen=True, slots=True)
class ParsedColumn:
    """``values`` shape (n,), NaN where a cell was empty or no number; ``unreadable`` are the rows of the latter,
    ``example`` is the first of their cells.
    """

    values: FloatArray
    unreadable: tuple[int, ...] = ()
    example: str = ""


def parse_number(cell: str, decimal: str = ".") -> float | None:
    """The number in a cell; NaN where the cell says that there is none; None where it is something else.

    ``decimal`` is ``"."`` or ``","``; groups of three may be parted by blanks, apostrophes, or the other of the two.
    With a decimal comma a point that is not before three digits is still a decimal point.
    """
    text = cell.strip()
    if len(text) > MAX_NUMBER_CHARS:
        return None
    if text.lower() in MISSING:
        return math.nan
    text = text.replace("−", "-")
    match = (_COMMA if decimal == "," else _POINT).fullmatch(text)
    if match is None and decimal == ",":
        match = _POINT.fullmatch(text) if "," not in text else None
    if match is None:
        return None
    sign, whole, fraction = match.groups()
    value = float(f"{sign}{_NOT_DIGIT.sub('', whole) or '0'}{fraction.replace(',', '.')}")
    return value if abs(value) < LARGEST else None


def split_suffix(cell: str) -> tuple[str, str]:
    """A cell such as ``200 W`` as ``("200", "W")``; the suffix is empty where there is none."""
    match = _WITH_SUFFIX.fullmatch(cell.strip()) if len(cell) <= MAX_NUMBER_CHARS else None
    return (match.group(1), match.group(2).strip()) if match else (cell, "")


def is_number(cell: str) -> bool:
    """Whether a cell is a number under either decimal sign (a missing one is not)."""
    text = cell.strip()
    if _PLAIN.fullmatch(text):
        return True
    if not text or not _DIGIT.search(text) or text.lower() in MISSING:
        return False
    return parse_number(text, ".") is not None or parse_number(text, ",") is not None


def parse_column(cells: Sequence[str], decimal: str = ".", *, suffix: bool = False) -> ParsedColumn:
    """All cells of a column as floats; ``suffix`` drops a unit that stands behind each number."""
    try:
        if decimal == "." or not any("." in cell for cell in cells):
            plain = cells if decimal == "." else [cell.replace(",", ".") for cell in cells]
            values = np.array(list(map(float, plain)), dtype=np.float64)
            if np.all(np.abs(values) < LARGEST) and not _UNUSUAL.search("".join(plain)):
                return ParsedColumn(values)
    except ValueError:
        pass
    return _parse_cell_by_cell(cells, decimal, suffix)


def _parse_cell_by_cell(cells: Sequence[str], decimal: str, suffix: bool) -> ParsedColumn:
    known = {cell: parse_number(split_suffix(cell)[0] if suffix else cell, decimal) for cell in set(cells)}
    values = np.array([known[cell] for cell in cells], dtype=np.float64)
    bad = {cell for cell, value in known.items() if value is None}
    unreadable = tuple(row for row, cell in enumerate(cells) if cell in bad) if bad else ()
    return ParsedColumn(values, unreadable, cells[unreadable[0]] if unreadable else "")
