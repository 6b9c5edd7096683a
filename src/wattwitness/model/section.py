"""Sections of a report: words, tables and charts as data, drawn by every renderer alike."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.chart import Chart


class Tone(StrEnum):
    """How a paragraph is to be read."""

    HEADLINE = "headline"
    PLAIN = "plain"
    NOTE = "note"
    WARNING = "warning"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """One or more plain sentences."""

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column's heading and unit; numbers are set flush right."""

    heading: str
    unit: str = ""
    numeric: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Cells as shown; every row as long as ``columns``.

    ``places`` is empty, or holds for each row the stretch of the ride it is about, from and to in seconds after the
    reference's first sample (``None``: no stretch), so that a renderer can lead there. ``folded``: the numbers behind
    a chart or a sentence, which a page may keep closed until asked for. ``leads_to`` names the chart that the places
    are shown in (empty: the first there is).
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    places: tuple[tuple[float, float] | None, ...] = ()
    folded: bool = False
    leads_to: str = ""

    def __post_init__(self) -> None:
        """Refuse ragged rows, and places that are not one a row."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of the table “{self.caption}” does not fit its columns")
        if self.places and len(self.places) != len(self.rows):
            raise ValueError(f"the table “{self.caption}” needs a place for every row, or none")


class Voice(StrEnum):
    """Who speaks in a section: the program from its results, or the tester in words of their own."""

    PROGRAM = "program"
    TESTER = "tester"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A titled part of the report; ``blocks`` in reading order: sentences first, then charts, then tables.

    The tester's words stand in a section of their own (``voice``), which every renderer sets apart.
    """

    name: str
    title: str
    blocks: tuple[Paragraph | Table | Chart, ...]
    voice: Voice = Voice.PROGRAM
