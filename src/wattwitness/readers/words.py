"""Numbers in the sentences of notices and errors."""

from __future__ import annotations

from collections.abc import Sequence


def count_of(number: int, singular: str, plural: str | None = None) -> str:
    """``1 sample``, ``12,340 samples``."""
    return f"{number:,} {singular if number == 1 else plural or singular + 's'}"


def duration_of(seconds: float) -> str:
    """A duration in the unit that reads best: ``0.4 s``, ``52 s``, ``5 min 1 s``, ``3 h 20 min``, ``2.5 days``."""
    if seconds < 10:
        return f"{seconds:.3g} s"
    whole = round(seconds)
    if whole < 120:
        return f"{whole} s"
    if whole < 7200:
        minutes, rest = divmod(whole, 60)
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    if whole < 2 * 86400:
        hours, minutes = divmod(round(whole / 60), 60)
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days = whole / 86400
    return f"{days:.1f} days" if days < 365 else f"{days / 365.25:.1f} years"


def listed(items: Sequence[str], limit: int = 4) -> str:
    """``a``, ``a and b``, ``a, b and c``; beyond ``limit`` the rest is counted."""
    if len(items) > limit:
        return ", ".join(items[:limit]) + f" and {len(items) - limit} more"
    if len(items) < 2:
        return "".join(items)
    return ", ".join(items[:-1]) + " and " + items[-1]


def plain_text(value: object, limit: int = 80) -> str:
    """Text found in a file, made safe to show: no control characters, blanks run together, at most ``limit`` long."""
    printable = "".join(character if character.isprintable() else " " for character in str(value)[: 4 * limit])
    text = " ".join(printable.split())
    return text if len(text) <= limit else text[: limit - 1] + "…"
