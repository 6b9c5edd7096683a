"""The report in a terminal: sentences and tables, readable without colour and at any width from 60 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from wattwitness.model.alone import AloneReport
from wattwitness.model.comparison import Comparison
from wattwitness.model.hanging_weights import WeighingReport
from wattwitness.model.inspection import Inspection
from wattwitness.model.plan import StudyPlan
from wattwitness.model.section import Paragraph, Section, Table, Tone
from wattwitness.model.study import Study
from wattwitness.render.text_table import table_lines
from wattwitness.sections.alone import alone_sections
from wattwitness.sections.inspection import inspection_sections
from wattwitness.sections.over_rides.registry import study_sections
from wattwitness.sections.plan import plan_sections
from wattwitness.sections.registry import sections_of
from wattwitness.sections.weighing import weighing_sections

if TYPE_CHECKING:
    from rich.console import Console

WIDEST = 100
INDENT = "  "
STYLES = {Tone.HEADLINE: "bold", Tone.PLAIN: "", Tone.NOTE: "dim", Tone.WARNING: "yellow"}
LEADS = {Tone.WARNING: "! "}
# For terminals whose encoding has no such signs: never a “?” where a minus was.
PLAIN_SIGNS = str.maketrans(
    {
        "\u2212": "-",
        "\u2013": "-",
        "\u00a0": " ",
        "\u2019": "'",
        "\u201c": '"',
        "\u201d": '"',
        "\u2026": "...",
        "\u00d7": "x",
        "\u00b1": "+/-",
        "\u00b7": ".",
        "\u221e": "inf",
        "\u2068": "",
        "\u2069": "",
    }
)


def standard_console() -> Console:
    """Standard output: colour where it is a terminal that wants it (NO_COLOR is respected), plain text elsewhere."""
    from rich.console import Console

    class Output(Console):
        def on_broken_pipe(self) -> None:
            # Whoever read has seen enough. Left alone this would end the process with the status of a broken limit.
            raise BrokenPipeError

    return Output(highlight=False, markup=False, emoji=False, soft_wrap=False)


def print_comparison(comparison: Comparison, console: Console) -> None:
    """Print every section; tables that only stand behind a chart or for the record are left to page and JSON."""
    for place, section in enumerate(section for section in sections_of(comparison) if _has_words(section)):
        if place:
            console.print()
        _print_section(section, console)


def print_inspections(inspections: Sequence[Inspection], console: Console) -> None:
    """Print what each file holds and what is wrong with it."""
    for place, inspection in enumerate(inspections):
        if place:
            console.print()
        for order, section in enumerate(inspection_sections(inspection)):
            if order:
                console.print()
            _print_section(section, console)


def print_weighing(report: WeighingReport, console: Console) -> None:
    """Print what each worksheet of hanging weights says."""
    for place, section in enumerate(weighing_sections(report)):
        if place:
            console.print()
        _print_section(section, console)


def print_alone(report: AloneReport, console: Console) -> None:
    """Print what one recording shows of itself."""
    for place, section in enumerate(section for section in alone_sections(report) if _has_words(section)):
        if place:
            console.print()
        _print_section(section, console)


def print_study(study: Study, unused: Sequence[tuple[str, str]], console: Console) -> None:
    """Print every section of a study."""
    for place, section in enumerate(study_sections(study, unused)):
        if place:
            console.print()
        _print_section(section, console)


def print_plan(plan: StudyPlan, console: Console) -> None:
    """Print a plan as a ride sheet."""
    for place, section in enumerate(plan_sections(plan)):
        if place:
            console.print()
        _print_section(section, console)


def _has_words(section: Section) -> bool:
    return any(
        isinstance(block, Paragraph) or (isinstance(block, Table) and not block.folded) for block in section.blocks
    )


def _print_section(section: Section, console: Console) -> None:
    _print_text(section.title, console, "bold underline", "")
    for block in section.blocks:
        if isinstance(block, Paragraph):
            _print_text(block.text, console, STYLES[block.tone], LEADS.get(block.tone, ""))
        elif isinstance(block, Table) and not block.folded:
            _print_table(block, console)


def _width(console: Console) -> int:
    return max(20, min(console.width, WIDEST))


def _said(text: str, console: Console) -> str:
    """``text`` in signs this terminal has."""
    encoding = console.encoding or "ascii"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return text.translate(PLAIN_SIGNS).encode("ascii", "replace").decode("ascii")
    return text


def _print_text(text: str, console: Console, style: str, lead: str) -> None:
    """One paragraph, wrapped here because the library would break lines between a number and its unit."""
    from rich.text import Text

    lines = textwrap.wrap(
        _said(text, console),
        width=_width(console),
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_on_hyphens=False,
    )
    console.print(Text("\n".join(lines), style=style), no_wrap=True, overflow="fold", crop=False)


def _print_table(table: Table, console: Console) -> None:
    from rich.cells import cell_len
    from rich.text import Text

    _print_text(table.caption, console, "italic", INDENT)
    said = replace(
        table,
        columns=tuple(
            replace(column, heading=_said(column.heading, console), unit=_said(column.unit, console))
            for column in table.columns
        ),
        rows=tuple(tuple(_said(cell, console) for cell in row) for row in table.rows),
    )
    rule = "─" if _said("─", console) == "─" else "-"
    for line in table_lines(said, _width(console) - len(INDENT), cell_len, rule):
        console.print(Text(INDENT + line), no_wrap=True, overflow="ignore", crop=False)
