"""Cells of tables that another program will open: in full, quoted where needed, and harmless as formulas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

import numpy as np

from wattwitness.model.arrays import FloatArray

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""The last four are the wide forms of the first, which some spreadsheets read alike."""


def harmless(text: str) -> str:
    """``text`` on one line, with a leading apostrophe where a spreadsheet would take it for a formula."""
    line = " ".join("".join(character if character.isprintable() else " " for character in text).split())
    return f"'{line}" if line.startswith(FORMULA_STARTS) else line


def exact_cells(values: FloatArray) -> list[str]:
    """The shortest decimals that read back as the very same numbers, shape (n,); empty where missing."""
    return ["" if value != value else exact(value) for value in values.tolist()]


def exact(value: float) -> str:
    """The shortest decimal that reads back as the very same number: ``12``, ``0.1``, ``1762160531.25``."""
    number = float(value)
    return str(int(number)) if number.is_integer() and abs(number) < 1e15 else repr(number)


def rounded_cells(values: FloatArray, decimals: int) -> list[str]:
    """Numbers to ``decimals``, shape (n,), without needless zeros; empty where missing."""
    return exact_cells(np.round(values, decimals) + 0.0)


def table_text(rows: Iterable[Sequence[str]]) -> str:
    """Comma-separated text, a row a line."""
    buffer = io.StringIO()
    csv.writer(buffer, lineterminator="\n").writerows(rows)
    return buffer.getvalue()


def quoted_line(text: str) -> str:
    """A line of text as one quoted cell, so that no program parts it into cells."""
    return '"' + text.replace('"', '""') + '"'
