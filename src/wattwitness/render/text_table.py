"""Tables as lines of text for any width: numbers are never broken; where they do not fit, rows are set as sentences."""

from __future__ import annotations

import textwrap
from collections.abc import Callable

from wattwitness.model.section import Column, Table

Measure = Callable[[str], int]
NARROWEST_TEXT = 14
GAPS = (2, 1)


def table_lines(table: Table, width: int, measure: Measure, rule: str = "─") -> list[str]:
    """Lines of at most ``width`` cells as ``measure`` counts them: a grid, or one paragraph a row if it is too wide."""
    for gap in GAPS:
        widths = _widths(table, width - gap * (len(table.columns) - 1), measure)
        if widths is not None:
            return _grid(table, widths, " " * gap, measure, rule)
    return _stacked(table, width)


def _widths(table: Table, room: int, measure: Measure) -> list[int] | None:
    """A width for each column; numbers keep theirs, text gives way down to a least width. None: does not fit."""
    wanted, least = [], []
    for place, column in enumerate(table.columns):
        cells = [row[place] for row in table.rows]
        words = max(measure(word) for word in f"{column.heading} {column.unit}".split(" "))
        full = max([words, *(measure(cell) for cell in cells)])
        wanted.append(full)
        longest_word = max([words, *(measure(word) for cell in cells for word in cell.split(" "))])
        least.append(full if column.numeric else max(longest_word, min(full, NARROWEST_TEXT)))
    if sum(least) > room:
        return None
    while sum(wanted) > room:
        widest = max(
            (place for place in range(len(wanted)) if wanted[place] > least[place]), key=lambda place: wanted[place]
        )
        wanted[widest] -= 1
    return wanted


def _grid(table: Table, widths: list[int], gap: str, measure: Measure, rule: str) -> list[str]:
    headings = [_heading(column, size) for column, size in zip(table.columns, widths, strict=True)]
    height = max((len(lines) for lines in headings), default=0)
    lines = _row([[""] * (height - len(lines)) + lines for lines in headings], table, widths, gap, measure)
    lines.append(rule * (sum(widths) + len(gap) * (len(widths) - 1)))
    for row in table.rows:
        cells = [_wrapped(cell, size) for cell, size in zip(row, widths, strict=True)]
        lines += _row(cells, table, widths, gap, measure)
    return lines


def _heading(column: Column, width: int) -> list[str]:
    """The heading, and its unit on a line of its own."""
    return _wrapped(column.heading, width) + (_wrapped(column.unit, width) if column.unit else [])


def _row(cells: list[list[str]], table: Table, widths: list[int], gap: str, measure: Measure) -> list[str]:
    height = max((len(lines) for lines in cells), default=0)
    found = []
    for k in range(height):
        parts = []
        for lines, column, size in zip(cells, table.columns, widths, strict=True):
            text = lines[k] if k < len(lines) else ""
            blank = " " * (size - measure(text))
            parts.append(blank + text if column.numeric else text + blank)
        found.append(gap.join(parts).rstrip(" "))
    return found


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width=max(width, 1), break_long_words=False, break_on_hyphens=False) or [""]


def _stacked(table: Table, width: int) -> list[str]:
    """Each row as ``heading cell unit; …``, wrapped with a hanging indent."""
    lines = []
    for row in table.rows:
        parts = [
            f"{column.heading} {cell}{_unit(column)}".strip()
            for column, cell in zip(table.columns, row, strict=True)
            if cell.strip()
        ]
        lines += textwrap.wrap(
            "; ".join(parts), width=max(width, 20), initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False
        )
    return lines


def _unit(column: Column) -> str:
    """The unit behind a number; a form of writing such as ``h:mm:ss`` is none."""
    return f"\u00a0{column.unit}" if column.unit and ":" not in column.unit else ""
