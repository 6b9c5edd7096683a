"""Forms with many rows: fields called “name.N”, put together into rows again; and files that are handed out."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from starlette.responses import Response

from wattwitness.model.errors import SettingInvalid

NUMBERED = re.compile(r"(\w{1,40})\.([0-9]{1,6})")
MOST_LETTERS = 300


def rows_in(
    words: Mapping[str, Any], names: Sequence[str], *, most: int, same: Sequence[str] = ()
) -> list[dict[str, str]]:
    """The rows of a form, in the order of their numbers, each with its own as ``row``.

    Those with nothing filled in but ``same`` are left out.
    Raises SettingInvalid for more than ``most``.
    """
    rows: dict[int, dict[str, str]] = {}
    for key, value in words.items():
        found = NUMBERED.fullmatch(key)
        if found is not None and found.group(1) in names:
            row = rows.setdefault(int(found.group(2)), dict.fromkeys(names, ""))
            row[found.group(1)] = " ".join(str(value).split())[:MOST_LETTERS]
    filled = [
        {**row, "row": str(number)}
        for number, row in sorted(rows.items())
        if any(value for name, value in row.items() if name not in same)
    ]
    if len(filled) > most:
        raise SettingInvalid(f"More than {most} rows are not taken.", where="rows", hint="Do it in parts.")
    return filled


def text_in(words: Mapping[str, Any], name: str) -> str:
    """A text of a form; empty where it is not there."""
    value = words.get(name)
    return value if isinstance(value, str) else ""


def download(content: bytes, name: str, kind: str) -> Response:
    """A file to be saved, under a plain name of ours."""
    return Response(content, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'})
