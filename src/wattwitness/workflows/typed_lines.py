"""A form that is checked by the reader of a text: what it says of lines, said of the form's rows and fields."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence

_LINE = re.compile(r"“[^”]*”|(?:^|(?<=[.] ))Line (\d+): ")
"""Where a mistake begins, or what was typed, which stands between “ and ” and may look alike."""

_COLUMN = re.compile(r"(?:under|needs) (\w+)|is no (\w+);")
_TYPED_OR_WORD = re.compile(r"“[^”]*”|\w+")


def said_of_rows(
    what: str,
    fields: Sequence[str],
    rows: Sequence[str],
    *,
    columns: Collection[str],
    otherwise: str,
    called: Mapping[str, str] | None = None,
) -> tuple[str, str | None]:
    """What a reader said, with rows in place of lines, and the field of the first mistake (``None``: none is named).

    ``fields`` holds for each line, from the first, the field that it came from: a key, or the number that a row has in
    the form; ``rows`` the latter, in their order. The first of ``columns`` that is named is the row's field, or else
    the one called ``otherwise``. ``called``: what the form calls its columns, for those whose own name it never shows.
    """
    found = [one for one in _LINE.finditer(what) if _field(fields, one)]
    where = _field(fields, found[0]) if found else ""
    if where in rows:
        mistake = what[found[0].end() : found[1].start() if len(found) > 1 else len(what)]
        named = [one for match in _COLUMN.finditer(_without_typed(mistake)) for one in match.groups()]
        where = f"{next((one for one in named if one in columns), otherwise)}.{where}"

    def row(match: re.Match[str]) -> str:
        if match.group(1) is None:
            return match.group(0)
        field = _field(fields, match)
        return f"Row {rows.index(field) + 1}: " if field in rows else ""

    return with_headings(_LINE.sub(row, what), called or {}), where or None


def with_headings(what: str, called: Mapping[str, str]) -> str:
    """A reader's sentence with columns called as on the page; what was typed, between “ and ”, stays as it was."""

    def said(match: re.Match[str]) -> str:
        name = match.group(0)
        return f"“{called[name]}”" if name in called else name

    return _TYPED_OR_WORD.sub(said, what) if called else what


def lines_renumbered(what: str, numbers: Sequence[int]) -> str:
    """A reader's sentences with the lines numbered as they were pasted: ``numbers`` holds, for each line that was read,
    which of the pasted ones it is (0: none of them, and then it is not named).
    """

    def line(match: re.Match[str]) -> str:
        if match.group(1) is None:
            return match.group(0)
        place = int(match.group(1)) - 1
        number = numbers[place] if place < len(numbers) else 0
        return f"Line {number}: " if number else ""

    return _LINE.sub(line, what)


def _field(fields: Sequence[str], match: re.Match[str]) -> str:
    """The field that a line came from; empty where it came from none, or where the match is of what was typed."""
    place = -1 if match.group(1) is None else int(match.group(1)) - 1
    return fields[place] if 0 <= place < len(fields) else ""


def _without_typed(text: str) -> str:
    return re.sub("“[^”]*”", "“”", text)
