"""Time stamps in cells: dates in the usual orders, clock times, elapsed times."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_EPOCH_DAY = date(1970, 1, 1).toordinal()
DAY_S = 86_400.0
MAX_STAMP_CHARS = 40

_COLON = re.compile(
    r"(?:(\d{1,3})\s*(?:d|days?),?\s+)?(\d{1,4}):(\d{2})(?::(\d{2}))?(?:[.,](\d{1,9}))?(?:\s*([ap])\.?m\.?)?",
    re.IGNORECASE,
)
_DATE_NUMBERS = r"(?P<p1>\d{1,4})(?P<sep>[-/.])(?P<p2>\d{1,2})(?P=sep)(?P<p3>\d{1,4})"
_DATE_DAY_NAME = r"(?:[a-z]{3,9},?\s+)?(?P<d1>\d{1,2})[-.\s]+(?P<m1>[a-z]{3,9})\.?[-,\s]+(?P<y1>\d{2,4})"
_DATE_NAME_DAY = r"(?:[a-z]{3,9},?\s+)?(?P<m2>[a-z]{3,9})\.?\s+(?P<d2>\d{1,2}),?\s+(?P<y2>\d{4})"
_CLOCK = (
    r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2})(?:[.,](?P<f>\d{1,9}))?)?"
    r"(?:\s*(?P<half>[ap])\.?m\.?)?\s*(?P<zone>z|utc|gmt|[+-]\d{2}:?(?:\d{2})?)?"
)
_STAMP = re.compile(
    rf"(?:{_DATE_NUMBERS}|{_DATE_DAY_NAME}|{_DATE_NAME_DAY})(?:(?:t|,?\s+|,)\s*{_CLOCK})?", re.IGNORECASE
)


class StampForm(StrEnum):
    """What a time cell looks like."""

    NUMBER = "number"
    COLON = "colon"
    DATE_TIME = "date_time"
    DATE = "date"


@dataclass(frozen=True, slots=True)
class DateCells:
    """Dates read both ways, shape (n,) each, NaN where the cell is no date.

    ``day_first`` and ``month_first`` are days since 1970-01-01 (NaN where that order is impossible; equal where the
    order is not in question), ``clock_s`` seconds after midnight (zone taken off), ``zoned`` whether a zone was given,
    ``points`` whether the parts are parted by points.
    """

    day_first: FloatArray
    month_first: FloatArray
    clock_s: FloatArray
    zoned: BoolArray
    points: bool
    half_days: bool


@dataclass(frozen=True, slots=True)
class ColonCells:
    """Times with colons, shape (n,) each: the parts as written; ``third`` is NaN where a cell has two.

    ``fraction`` is the decimal fraction behind the last part; ``half`` is 0 for a.m., 12 for p.m., NaN for neither.
    """

    first: FloatArray
    second: FloatArray
    third: FloatArray
    fraction: FloatArray
    half: FloatArray


def stamp_form(cell: str) -> StampForm | None:
    """What a cell looks like as a time, numbers aside; None where it is no time."""
    text = cell.strip()
    if len(text) > MAX_STAMP_CHARS or not any(mark in text for mark in ":-/. T"):
        return None
    if _COLON.fullmatch(text):
        return StampForm.COLON
    found = _parse_stamp(text)
    if found is None:
        return None
    return StampForm.DATE_TIME if found[2] is not None else StampForm.DATE


def parse_colons(cells: Sequence[str]) -> ColonCells:
    """Read cells such as ``5:11``, ``1:05:11.4``, ``13:45:02``, ``1:45:02 PM`` or ``0 days 00:05:11``."""
    parts = np.full((5, len(cells)), np.nan)
    for row, cell in enumerate(cells):
        match = _COLON.fullmatch(cell.strip())
        if match is None:
            continue
        days, first, second, third, fraction, half = match.groups()
        if int(second) > 59 or (third is not None and int(third) > 59):
            continue
        if days and third is None:
            continue
        parts[0, row], parts[1, row] = int(first) + 24 * int(days or 0), int(second)
        if third is not None:
            parts[2, row] = int(third)
        parts[3, row] = float(f"0.{fraction}") if fraction else 0.0
        if half:
            parts[4, row] = 12.0 if half in "pP" else 0.0
    return ColonCells(*parts)


def parse_dates(cells: Sequence[str]) -> DateCells:
    """Read dates, with or without a time of day, in ISO 8601 and the usual national forms."""
    plain = _plain_iso(cells)
    if plain is not None:
        return plain
    numbers = np.full((3, len(cells)), np.nan)
    zoned = np.zeros(len(cells), dtype=np.bool_)
    points = half_days = False
    for row, cell in enumerate(cells):
        text = cell.strip()
        found = _parse_iso(text) or _parse_stamp(text)
        if found is None:
            continue
        day_first, month_first, clock_s, zone_s, odd = found
        numbers[0, row] = np.nan if day_first is None else day_first
        numbers[1, row] = np.nan if month_first is None else month_first
        numbers[2, row] = (clock_s or 0.0) - (zone_s or 0.0)
        zoned[row] = zone_s is not None
        points, half_days = points or "." in odd, half_days or "m" in odd
    return DateCells(numbers[0], numbers[1], numbers[2], zoned, points, half_days)


def _plain_iso(cells: Sequence[str]) -> DateCells | None:
    """The quick way for a column of ISO 8601 stamps of one length, all without an offset or all ending in Z."""
    size = len(cells[0]) if cells else 0
    zoned = bool(cells) and cells[0].endswith("Z")
    joined = "".join(cells)
    if not 19 <= size <= 27 or "+" in joined or joined.count("-") != 2 * len(cells):
        return None
    if any(len(cell) != size for cell in cells) or joined.count("Z") != zoned * len(cells):
        return None
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?Z?", cells[0]):
        return None
    try:
        stamps = np.array([cell[:-1] for cell in cells] if zoned else cells, dtype="datetime64[us]")
    except ValueError:
        return None
    if np.any(np.isnat(stamps)):
        return None
    micros = stamps.astype(np.int64)
    day = (micros // 86_400_000_000).astype(np.float64)
    clock_s = np.asarray((micros % 86_400_000_000) * 1e-6, dtype=np.float64)
    return DateCells(day, day, clock_s, np.full(len(cells), zoned), False, False)


_Stamp = tuple[int | None, int | None, float | None, float | None, str]


def _parse_iso(text: str) -> _Stamp | None:
    if len(text) < 15 or not text[:4].isdigit():
        return None
    try:
        stamp = datetime.fromisoformat(text)
    except ValueError:
        return None
    day = stamp.toordinal() - _EPOCH_DAY
    clock_s = stamp.hour * 3600 + stamp.minute * 60 + stamp.second + stamp.microsecond * 1e-6
    zone = stamp.utcoffset()
    return day, day, clock_s, None if zone is None else zone.total_seconds(), ""


def _parse_stamp(text: str) -> _Stamp | None:
    iso = _parse_iso(text)
    if iso is not None:
        return iso
    if len(text) > MAX_STAMP_CHARS:
        return None
    match = _STAMP.fullmatch(text)
    if match is None:
        return None
    days = _days_of(match)
    if days == (None, None):
        return None
    clock_s: float | None = None
    if match["h"] is not None:
        clock_s = _clock_of(match)
        if clock_s is None:
            return None
    odd = ("." if match["sep"] == "." else "") + ("m" if match["half"] else "")
    return days[0], days[1], clock_s, _zone_of(match["zone"]), odd


def _days_of(match: re.Match[str]) -> tuple[int | None, int | None]:
    if match["p1"] is not None:
        first, second, third = match["p1"], match["p2"], match["p3"]
        if len(first) == 4:
            day = _day(first, second, third)
            return day, day
        if len(third) not in (2, 4) or len(first) > 2:
            return None, None
        return _day(third, second, first), _day(third, first, second)
    name, number, year = (
        (match["m1"], match["d1"], match["y1"]) if match["m1"] else (match["m2"], match["d2"], match["y2"])
    )
    if name[:3].lower() not in _MONTHS or len(year) == 3:
        return None, None
    day = _day(year, str(_MONTHS.index(name[:3].lower()) + 1), number)
    return day, day


def _day(year: str, month: str, day: str) -> int | None:
    full_year = int(year) + (2000 if len(year) == 2 else 0)
    try:
        return date(full_year, int(month), int(day)).toordinal() - _EPOCH_DAY
    except ValueError:
        return None


def _clock_of(match: re.Match[str]) -> float | None:
    hour, minute, second = int(match["h"]), int(match["m"]), int(match["s"] or 0)
    if match["half"] and hour <= 12:
        hour = hour % 12 + (12 if match["half"] in "pP" else 0)
    if hour > 24 or minute > 59 or second > 60:
        return None
    return hour * 3600 + minute * 60 + second + (float(f"0.{match['f']}") if match["f"] else 0.0)


def _zone_of(zone: str | None) -> float | None:
    if zone is None:
        return None
    if zone[0] not in "+-":
        return 0.0
    digits = zone[1:].replace(":", "").ljust(4, "0")
    return (1 if zone[0] == "+" else -1) * (int(digits[:2]) * 3600.0 + int(digits[2:]) * 60.0)


def from_timestamp(seconds: float) -> str:
    """Seconds since 1970-01-01 UTC as ``2026-01-05 10:00:00 UTC``, for messages."""
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
