"""A statement as Markdown that also reads as plain text."""

from __future__ import annotations

from collections.abc import Sequence

from wattwitness.model.section import Paragraph, Table, Tone
from wattwitness.render.evidence.statement_page import FOOT
from wattwitness.render.markdown import plain, table_lines
from wattwitness.sections.statement import Statement


def statement_text(statement: Statement, *, small_print: Sequence[str]) -> str:
    """The whole statement; signs of names that Markdown would read as its own are escaped."""
    lines = [f"# {plain(statement.title)}", "", plain(statement.subtitle), ""]
    for section in statement.sections:
        lines += [f"## {plain(section.title)}", ""]
        for block in section.blocks:
            if isinstance(block, Paragraph):
                lines += [_paragraph(block), ""]
            elif isinstance(block, Table):
                lines += [*table_lines(block), ""]
            elif block.panels:
                lines += [f"*{plain(block.title)}.* {plain(block.alt)}", ""]
    lines += ["## Small print", "", *(part for line in (*small_print, FOOT) for part in (plain(line), ""))][:-1]
    return "\n".join(lines) + "\n"


def _paragraph(paragraph: Paragraph) -> str:
    text = plain(paragraph.text)
    if paragraph.tone is Tone.HEADLINE:
        return f"**{text}**"
    return f"**Mind:** {text}" if paragraph.tone is Tone.WARNING else text
