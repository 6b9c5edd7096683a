"""How a file of spot readings is known from a table of samples: by its first line, or by its headings."""

from __future__ import annotations

import re

MARK = "# spot readings"
_MARK = re.compile(r"\s*\"?#\s*spot\s+readings\b", re.IGNORECASE)
_HEADINGS = re.compile(r"\s*\"?at\"?\s*[,;\t]\s*(?:[^\n]*[,;\t]\s*)?\"?shows_", re.IGNORECASE)


def is_spot_text(text: str) -> bool:
    """Whether the text begins as spot readings do: with the mark, or with the headings ``at`` and ``shows_…``."""
    lines = (line for line in text.lstrip("\ufeff").splitlines() if line.strip())
    for line in lines:
        if _MARK.match(line):
            return True
        if not line.lstrip().startswith("#"):
            return _HEADINGS.match(line) is not None
    return False
