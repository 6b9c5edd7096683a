"""Strict reading of small TOML files of our own: every key known, every value of its kind and within its range."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from wattwitness.model.errors import WattwitnessError
from wattwitness.readers.words import plain_text

LONGEST_TEXT = 200
MOST_ITEMS = 100

Invalid = Callable[[str], WattwitnessError]
"""Makes the error of a kind of file from a sentence that says what is wrong."""

Check = Callable[[Any, str, Invalid], Any]
"""Takes a value, the place to name, and how to say that it is wrong; gives the value as it is used."""


def load_toml(path: Path, *, limit_bytes: int, kind: str, invalid: Invalid) -> dict[str, Any]:
    """Read a TOML file of at most ``limit_bytes``. ``kind`` names it in errors, which ``invalid`` makes."""
    try:
        with path.open("rb") as file:
            raw = file.read(limit_bytes + 1)
    except (OSError, ValueError) as error:
        raise invalid(f"The {kind} cannot be read: {getattr(error, 'strerror', None) or error}.") from error
    if len(raw) > limit_bytes:
        raise invalid(f"The file is far too large for a {kind}.")
    try:
        return parse_toml(raw.decode("utf-8-sig"), invalid)
    except UnicodeDecodeError as error:
        raise invalid("The file is not UTF-8 text.") from error


def parse_toml(text: str, invalid: Invalid) -> dict[str, Any]:
    """The tables of a TOML text."""
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise invalid(f"The file is not valid TOML: {error}.") from error


def checked_table(
    content: Mapping[str, Any], key: str, checks: Mapping[str, Check], invalid: Invalid, title: str = ""
) -> dict[str, Any]:
    """The table ``key`` of ``content`` with every value checked; empty where it is left out."""
    title = title or key
    return checked_items(content.get(key, {}), checks, invalid, title)


def checked_items(value: Any, checks: Mapping[str, Check], invalid: Invalid, title: str) -> dict[str, Any]:
    """The items of one table, each checked."""
    if not isinstance(value, dict):
        raise invalid(f"“{title}” must be a table, written as [{title}] on a line of its own.")
    refuse_unknown(value, checks, f"key in [{title}]", invalid)
    return {item: checks[item](value[item], f"[{title}] {item}", invalid) for item in value}


def refuse_unknown(given: Mapping[str, Any], known: Mapping[str, Any], what: str, invalid: Invalid) -> None:
    """A key that is not known is refused, never skipped."""
    for key in given:
        if key not in known:
            raise invalid(f"“{plain_text(key, 60)}” is no {what}; known are: {', '.join(known)}.")


def a_number(low: float, high: float) -> Check:
    """A number within a range."""

    def check(value: Any, place: str, invalid: Invalid) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise invalid(f"{place} must be a number from {low:g} to {high:g}.")
        return float(value)

    return check


def one_of(options: type[StrEnum]) -> Check:
    """One of the words of ``options``."""

    def check(value: Any, place: str, invalid: Invalid) -> StrEnum:
        if not isinstance(value, str) or value not in [option.value for option in options]:
            raise invalid(f"{place} must be one of: {', '.join(f'“{option.value}”' for option in options)}.")
        return options(value)

    return check


def a_list_of(check: Check) -> Check:
    """A list whose items all pass ``check``."""

    def checked(value: Any, place: str, invalid: Invalid) -> tuple[Any, ...]:
        if not isinstance(value, list) or len(value) > MOST_ITEMS:
            raise invalid(f"{place} must be a list in brackets, of at most {MOST_ITEMS} items.")
        return tuple(check(item, place, invalid) for item in value)

    return checked


def a_table(checks: Mapping[str, Check]) -> Check:
    """A table within braces, each item checked."""

    def checked(value: Any, place: str, invalid: Invalid) -> dict[str, Any]:
        return checked_items(value, checks, invalid, place.strip("[]").replace("] ", " "))

    return checked


def yes_or_no(value: Any, place: str, invalid: Invalid) -> bool:
    """``true`` or ``false``."""
    if not isinstance(value, bool):
        raise invalid(f"{place} must be true or false, without quotes.")
    return value


def a_text(value: Any, place: str, invalid: Invalid) -> str:
    """Text, shorn of what cannot be shown."""
    if not isinstance(value, str):
        raise invalid(f"{place} must be text in quotes.")
    return plain_text(value, LONGEST_TEXT)


def a_path(value: Any, place: str, invalid: Invalid) -> str:
    """Where a file is; unlike text to be shown it is kept as it was written."""
    if not isinstance(value, str) or not value or "\0" in value:
        raise invalid(f"{place} must be the path of a file, in quotes.")
    return value


def a_day(value: Any, place: str, invalid: Invalid) -> str:
    """A date, with or without quotes, as ISO 8601."""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    try:
        return date.fromisoformat(value).isoformat()
    except (TypeError, ValueError):
        raise invalid(f"{place} must be a date such as 2026-11-25.") from None
