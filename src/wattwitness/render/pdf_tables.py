"""Tables that fit the page: smaller letters first, then in parts beside one another that repeat the first column."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from wattwitness.model.section import Table

PAGE_PT = 170 / 25.4 * 72
"""Width of the text on an A4 page with margins of 20 mm."""

SIZES_PT = (9.0, 8.0, 7.2, 6.5)
INSET_PT = 6.0
LONGEST_WORD = 22
BREAK = "\u200b"
"""A place where a word too long for its column may be broken; it is not seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A table, or a part of one, with the size of its letters and the width of each column."""

    table: Table
    size_pt: float
    widths_pt: tuple[float, ...]


def fitted(table: Table) -> tuple[Fitted, ...]:
    """The table in one part, or in as many as the page needs."""
    table = _breakable(table)
    least, whole = _needs(table)
    for size in SIZES_PT:
        if sum(width * size + INSET_PT for width in least) <= PAGE_PT:
            return (Fitted(table=table, size_pt=size, widths_pt=_shared(least, whole, size)),)
    parts = _split(table, least, SIZES_PT[-1])
    return tuple(
        Fitted(table=part, size_pt=SIZES_PT[-1], widths_pt=_shared(*_needs(part), SIZES_PT[-1])) for part in parts
    )


def _breakable(table: Table) -> Table:
    def cell(text: str) -> str:
        return re.sub(rf"[^\s{BREAK}]{{{LONGEST_WORD},}}", _broken, text)

    columns = tuple(replace(column, heading=cell(column.heading)) for column in table.columns)
    return replace(table, columns=columns, rows=tuple(tuple(cell(text) for text in row) for row in table.rows))


def _broken(found: re.Match[str]) -> str:
    word = found.group()
    return BREAK.join(word[start : start + 16] for start in range(0, len(word), 16))


def _needs(table: Table) -> tuple[list[float], list[float]]:
    """For each column, in letter heights: the widest word, and the widest cell on one line."""
    least, whole = [], []
    for place, column in enumerate(table.columns):
        head = f"{column.heading} {column.unit}".strip()
        cells = [(head, 1.08), *((row[place], 1.0) for row in table.rows)]
        words = [_width(word) * bold for text, bold in cells for word in re.split(rf"[ \n{BREAK}]", text)]
        least.append(max(words, default=0.0))
        # A heading may run over lines where its column is narrow.
        whole.append(max(least[-1], *(_width(text) for text, bold in cells if bold == 1.0), _width(head) / 2))
    return least, whole


def _width(text: str) -> float:
    """About how wide text is, in letter heights."""
    return sum(_letter(sign) for sign in text)


def _letter(sign: str) -> float:
    if unicodedata.east_asian_width(sign) in ("W", "F"):
        return 1.05
    if sign.isupper() or not sign.isascii():
        return 0.68
    return 0.3 if sign in " .,:;'|ilj" else 0.54


def _shared(least: list[float], whole: list[float], size: float) -> tuple[float, ...]:
    """Widths in points: what each column needs, and of the room left over a share by what it could use."""
    room = PAGE_PT - INSET_PT * len(least)
    narrow, wide = [width * size for width in least], [width * size for width in whole]
    if sum(wide) <= room:
        return tuple(width + INSET_PT for width in wide)
    spare, wanted = max(room - sum(narrow), 0.0), sum(wide) - sum(narrow)
    return tuple(
        low + INSET_PT + (spare * (high - low) / wanted if wanted > 0 else 0.0)
        for low, high in zip(narrow, wide, strict=True)
    )


def _split(table: Table, least: list[float], size: float) -> list[Table]:
    """Parts of as many columns as fit, each with the first column before them."""
    widths = [width * size + INSET_PT for width in least]
    groups: list[list[int]] = [[]]
    for place in range(1, len(widths)):
        taken = widths[0] + sum(widths[other] for other in groups[-1])
        if groups[-1] and taken + widths[place] > PAGE_PT:
            groups.append([])
        groups[-1].append(place)
    return [
        replace(
            table,
            caption=f"{table.caption} (part {number} of {len(groups)})",
            columns=tuple(table.columns[place] for place in (0, *group)),
            rows=tuple(tuple(row[place] for place in (0, *group)) for row in table.rows),
        )
        for number, group in enumerate(groups, start=1)
    ]
