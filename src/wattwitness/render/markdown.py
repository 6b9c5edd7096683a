"""Text and tables as Markdown, with nothing in a name that Markdown or HTML would act on."""

from __future__ import annotations

import re
from collections.abc import Iterator

from wattwitness.model.section import Table
from wattwitness.words.numbers import NBSP

ENTITIES = {"&": "&amp;", "<": "&lt;", ">": "&gt;"}
"""Not every reader of Markdown lets a backslash take the meaning from these."""

SIGNS = re.compile(r"([\\`*_\[\]#|~$])")
LINKS = re.compile(r"(?i)(https?|ftp|mailto)(:)|(www)(\.)")


def plain(text: str) -> str:
    """Text on one line, with ordinary blanks, and nothing in it that Markdown or HTML would act on."""
    line = " ".join(text.replace(NBSP, " ").split())
    escaped = SIGNS.sub(r"\\\1", "".join(ENTITIES.get(sign, sign) for sign in line))
    return LINKS.sub(lambda found: "".join(f"\\{part}" if part in ":." else part for part in found.groups("")), escaped)


def table_lines(table: Table) -> Iterator[str]:
    """A table's caption and its rows, a line each."""
    heads = [plain(f"{column.heading}, {column.unit}" if column.unit else column.heading) for column in table.columns]
    yield f"{plain(table.caption)}:"
    yield ""
    yield f"| {' | '.join(heads)} |"
    yield f"|{'|'.join('---:' if column.numeric else '---' for column in table.columns)}|"
    for row in table.rows:
        yield f"| {' | '.join(plain(cell) for cell in row)} |"


def table_text(table: Table, *, about: str) -> str:
    """One table as a file; ``about`` says beneath it what it is of."""
    return "\n".join([*table_lines(table), "", plain(about)]) + "\n"
