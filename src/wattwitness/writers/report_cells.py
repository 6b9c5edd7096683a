"""Cells of the report's tables taken apart: the number, its interval, its unit, and what is no number.

Only signs that the program writes itself are read (``words.numbers``): a true minus, thousands and units set apart by
a blank that does not break, a range with “to”.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from wattwitness.words.numbers import ABSENT, MINUS, NBSP

INFINITE = {"∞": "inf", "+∞": "inf", f"{MINUS}∞": "-inf"}
_BARE = re.compile(r"-?\d+(\.\d+)?")
_POWER_OF_TEN = re.compile(r"(-?\d\.\d+)×10\^(\d+)")
_SIGN = rf"[+{MINUS}-]?"
_DIGITS = rf"\d{{1,3}}(?:{NBSP}\d{{3}})+(?:\.\d+)?|\d\.\d+{NBSP}×{NBSP}10\^\d+|\d+(?:\.\d+)?|∞"
_NUMBER = rf"{_SIGN}(?:{_DIGITS})"
_UNIT = r"[^\s\d(),;:]\S*?"
_WITH_INTERVAL = re.compile(rf"({_NUMBER}) \(({_NUMBER}) to ({_NUMBER})\)(?:{NBSP}({_UNIT}))?")
_INTERVAL = re.compile(rf"({_NUMBER}) to ({_NUMBER})")
_QUANTITY = re.compile(rf"({_NUMBER}){NBSP}({_UNIT})(?:,? (.+))?")
_CLOCK_TIME = re.compile(rf"{MINUS}(\d+:\d\d:\d\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class CellParts:
    """What a cell holds, numbers as every program reads them; empty what it does not hold."""

    value: str = ""
    low: str = ""
    high: str = ""
    unit: str = ""
    words: str = ""

    @property
    def estimate(self) -> bool:
        """Whether a value stands with its interval."""
        return bool(self.value and self.low)


def as_number(text: str) -> str | None:
    """``text`` as a number that every program reads, if it is one: ``−4.3`` is ``-4.3``, ``12 000`` is ``12000``."""
    text = text.strip()
    if text in INFINITE:
        return INFINITE[text]
    bare = text.replace(NBSP, "").replace(MINUS, "-").removeprefix("+")
    large = _POWER_OF_TEN.fullmatch(bare)
    if large:
        return f"{large.group(1)}e{large.group(2)}"
    return bare if _BARE.fullmatch(bare) else None


def as_interval(text: str) -> tuple[str, str] | None:
    """Both ends of ``−4.8 to −3.8``."""
    found = _INTERVAL.fullmatch(text.strip())
    return (_plain(found.group(1)), _plain(found.group(2))) if found else None


def missing(text: str) -> bool:
    """Whether a cell says that there is nothing."""
    return text.strip() in ("", ABSENT)


def parts_of(text: str) -> CellParts:
    """A cell taken apart: ``−5.5 (−16.6 to +5.6) %``, ``−4.8 to −3.8``, ``0.040 s``, ``3``, or words."""
    text = text.strip()
    if missing(text):
        return CellParts()
    number, ends = as_number(text), as_interval(text)
    if number is not None:
        return CellParts(value=number)
    if ends is not None:
        return CellParts(low=ends[0], high=ends[1])
    found = _WITH_INTERVAL.fullmatch(text)
    if found:
        value, low, high = (_plain(part) for part in found.groups()[:3])
        return CellParts(value=value, low=low, high=high, unit=found.group(4) or "")
    found = _QUANTITY.fullmatch(text)
    if found:
        return CellParts(value=_plain(found.group(1)), unit=found.group(2), words=found.group(3) or "")
    return CellParts(words=text)


def signed_quantity(text: str) -> bool:
    """Whether a cell begins with a number that carries its sign, and its unit: ``+12.30 s (…)``."""
    return text.strip().startswith(("+", MINUS)) and bool(_QUANTITY.fullmatch(text.strip()))


def own_time(text: str) -> str | None:
    """A time before the first sample with a plain minus: ``-0:00:05``."""
    found = _CLOCK_TIME.fullmatch(text.strip())
    return f"-{found.group(1)}" if found else None


def _plain(text: str) -> str:
    number = as_number(text)
    if number is None:
        raise ValueError(f"{text!r} is no number")
    return number
