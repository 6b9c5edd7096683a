"""A statement as Markdown that also reads as plain text."""

from __future__ import annotations

import re
from collections.abc import Iterator

from wattwitness.model.section import Paragraph, Table, Tone
from wattwitness.sections.statement import Statement
from wattwitness.words.numbers import NBSP

SIGNS = re.compile(r"([\\`*_\[\]<>#|])")


def statement_text(statement: Statement, *, version: str) -> str:
    """The whole statement; signs of names that Markdown would read as its own are escaped."""
    lines = [f"# {plain(statement.title)}", "", plain(statement.subtitle), ""]
    for section in statement.sections:
        lines += [f"## {plain(section.title)}", ""]
        for block in section.blocks:
            if isinstance(block, Paragraph):
                lines += [_paragraph(block), ""]
            elif isinstance(block, Table):
                lines += [*_table(block), ""]
            elif block.panels:
                lines += [f"*{plain(block.title)}.* {plain(block.alt)}", ""]
    lines.append(
        f"Made by wattwitness {plain(version)} from the recordings beside this page; README.txt says how to repeat it."
    )
    return "\n".join(lines) + "\n"


def plain(text: str) -> str:
    """Text on one line, with ordinary blanks, and nothing in it that Markdown or HTML would act on."""
    return SIGNS.sub(r"\\\1", " ".join(text.replace(NBSP, " ").split()))


def _paragraph(paragraph: Paragraph) -> str:
    text = plain(paragraph.text)
    if paragraph.tone is Tone.HEADLINE:
        return f"**{text}**"
    return f"**Mind:** {text}" if paragraph.tone is Tone.WARNING else text


def _table(table: Table) -> Iterator[str]:
    heads = [plain(f"{column.heading}, {column.unit}" if column.unit else column.heading) for column in table.columns]
    yield f"{plain(table.caption)}:"
    yield ""
    yield f"| {' | '.join(heads)} |"
    yield f"|{'|'.join('---:' if column.numeric else '---' for column in table.columns)}|"
    for row in table.rows:
        yield f"| {' | '.join(plain(cell) for cell in row)} |"
