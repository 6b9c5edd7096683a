"""How a ride copy is known from other tables: by its first line."""

from __future__ import annotations

from wattwitness.model.ride_copy import MARK


def is_copy_text(text: str) -> bool:
    """Whether the text begins with the mark of a ride copy, alone on its line."""
    first = text.lstrip("\ufeff \r\n").split("\n", maxsplit=1)[0]
    return first.strip().strip('",;').strip() == MARK
