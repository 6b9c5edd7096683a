"""Rows and worksheets that say the same thing twice: named, and counted once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from wattwitness.model.hanging_weights import HungReading, LoadStep, Worksheet
from wattwitness.model.recording import Notice

UNLOADED = (LoadStep.ZERO_BEFORE, LoadStep.ZERO_AFTER)
SHOWN = 5
LEAST_ALIKE = 5
"""Fewer readings than this may well be equal by chance on a coarse display."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Distinct:
    """Worksheets that count, each with what is to be said of its copies."""

    worksheets: tuple[Worksheet, ...]
    notices: tuple[tuple[Notice, ...], ...]


def distinct_rows(worksheet: Worksheet) -> tuple[Worksheet, tuple[Notice, ...]]:
    """The worksheet without rows that repeat an earlier one of the same series cell by cell, and a notice of them.

    Two equal readings of one hanging are one reading. The unloaded meter may well be read several times and show the
    same, so its rows are copies only where most loaded rows of their series are.
    """
    seen: set[HungReading] = set()
    kept: list[HungReading] = []
    copies: list[HungReading] = []
    for reading in worksheet.readings:
        bare = replace(reading, line=0)
        (copies if bare in seen else kept).append(reading)
        seen.add(bare)
    loaded = Counter(_series(item) for item in worksheet.readings if item.step not in UNLOADED)
    copied = Counter(_series(item) for item in copies if item.step not in UNLOADED)
    copies = [
        item
        for item in copies
        if item.step not in UNLOADED or 2 * copied[_series(item)] >= max(loaded[_series(item)], 1)
    ]
    if not copies:
        return worksheet, ()
    left_out = {id(item) for item in copies}
    notice = Notice(
        slug="rows_repeated",
        message=(
            f"{_rows(copies)} the same as an earlier row in every cell: copied, or one hanging read twice. Each counts "
            "once. A weight hung again takes a repeat number of its own."
        ),
        samples=len(copies),
        about=worksheet.source or worksheet.meter,
    )
    return replace(worksheet, readings=tuple(item for item in worksheet.readings if id(item) not in left_out)), (
        notice,
    )


def distinct_worksheets(worksheets: Sequence[Worksheet]) -> Distinct:
    """Worksheets of which none is a copy of another: by the file's content, or by equal readings of one meter."""
    kept: list[Worksheet] = []
    notices: list[list[Notice]] = []
    for worksheet in worksheets:
        place = next((place for place, other in enumerate(kept) if _is_copy(worksheet, other)), None)
        if place is None:
            kept.append(worksheet)
            notices.append([])
        else:
            notices[place].append(_copy_notice(worksheet, kept[place]))
    return Distinct(worksheets=tuple(kept), notices=tuple(tuple(one) for one in notices))


def _is_copy(worksheet: Worksheet, other: Worksheet) -> bool:
    if worksheet.sha256 and worksheet.sha256 == other.sha256:
        return True
    return (
        worksheet.meter == other.meter
        and len(worksheet.readings) >= LEAST_ALIKE
        and [replace(item, line=0) for item in worksheet.readings] == [replace(item, line=0) for item in other.readings]
    )


def _copy_notice(worksheet: Worksheet, other: Worksheet) -> Notice:
    about = worksheet.source or worksheet.meter
    if worksheet.sha256 and worksheet.sha256 == other.sha256:
        what = (
            "is the same file again" if about == other.source else f"is the same file as {other.source}, byte for byte"
        )
    else:
        what = f"holds the same readings as {other.source or 'an earlier worksheet'} in every row"
    return Notice(
        slug="worksheet_repeated",
        message=f"{about} {what}: it counts once, since a copy is no second weighing.",
        about=about,
    )


def _series(reading: HungReading) -> tuple[object, ...]:
    return (reading.side, reading.position, reading.repeat)


def _rows(copies: Sequence[HungReading]) -> str:
    lines = [item.line for item in copies if item.line]
    if not lines:
        return "1 row is" if len(copies) == 1 else f"{len(copies)} rows are"
    if len(lines) == 1:
        return f"The row on line {lines[0]} is"
    more = f" and {len(lines) - SHOWN} more" if len(lines) > SHOWN else ""
    return f"The rows on lines {', '.join(str(line) for line in lines[:SHOWN])}{more} are"
