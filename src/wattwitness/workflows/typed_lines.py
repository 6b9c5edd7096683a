"""A form that is checked by the reader of a text: what it says of lines, said of the form's rows and fields."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

_LINE = re.compile(r"Line (\d+): ")
_COLUMN = re.compile(r"(?:under|needs) (\w+)|is no (\w+);")


def said_of_rows(
    what: str, fields: Sequence[str], rows: Sequence[str], *, columns: Collection[str], otherwise: str
) -> tuple[str, str | None]:
    """What a reader said, with rows in place of lines, and the field of the first mistake (``None``: none is named).

    ``fields`` holds for each line, from the first, the field that it came from: a key, or the number that a row has in
    the form; ``rows`` the latter, in their order. The first of ``columns`` that is named is the row's field, or else
    the one called ``otherwise``.
    """
    first = _LINE.search(what)
    where = "" if first is None else fields[int(first.group(1)) - 1]
    if where in rows:
        named = [one for found in _COLUMN.finditer(what.partition(".")[0] + ".") for one in found.groups()]
        where = f"{next((one for one in named if one in columns), otherwise)}.{where}"

    def row(found: re.Match[str]) -> str:
        field = fields[int(found.group(1)) - 1]
        return f"Row {rows.index(field) + 1}: " if field in rows else ""

    return _LINE.sub(row, what), where or None
