"""What is handed on to others: the sections of one answer under one title, before anything is drawn."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.chart import Chart
from wattwitness.model.section import Section, Table


@dataclass(frozen=True, slots=True, kw_only=True)
class Publication:
    """One answer as it is published.

    ``kind`` says of what it is (``comparison``, ``study``), ``when`` of which days. ``about`` is what a figure that
    stands alone is of. The first section holds the answer, the last the method. ``small_print`` goes with every file:
    version, settings, hashes of the data, the claim and its source, what was left out, a line each. ``data_mark`` is a
    short mark of the data.
    """

    title: str
    kind: str
    when: str
    about: str
    version: str
    sections: tuple[Section, ...]
    small_print: tuple[str, ...] = ()
    data_mark: str = ""

    @property
    def origin(self) -> str:
        """What a figure says beneath itself, besides what it is of."""
        return f"wattwitness {self.version}" + (f", data {self.data_mark}" if self.data_mark else "")

    @property
    def charts(self) -> tuple[Chart, ...]:
        """Every chart that has something to draw, each name once, in reading order."""
        found = {
            block.name: block
            for section in self.sections
            for block in section.blocks
            if isinstance(block, Chart) and block.panels
        }
        return tuple(found.values())

    @property
    def tables(self) -> tuple[tuple[str, Table], ...]:
        """Every table with rows, under a name that stays: the section's, and its place in it from 1."""
        found = []
        for section in self.sections:
            tables = [block for block in section.blocks if isinstance(block, Table) and block.rows]
            found += [(f"{section.name}-{place}", table) for place, table in enumerate(tables, start=1)]
        return tuple(found)
