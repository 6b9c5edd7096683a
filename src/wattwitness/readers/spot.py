"""Spot readings: what a display showed at noted times, typed or read off a film, a few per minute.

A text format of our own, made to be typed::

    # spot readings
    at, shows_w, shows_rpm, note
    0:30, 148, 82
    1:15, 205, 90, end of the hill

``at`` is m:ss or h:mm:ss after any zero (a film's own), or, with a line ``# date: 2026-01-12`` (and, if wanted,
``# utc_offset: +01:00``), the time of day. An empty value or a dash means that the display could not be read.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime

import numpy as np

from wattwitness.model.errors import NoSamples, SpotReadingInvalid
from wattwitness.model.recording import ChannelName, Notice, Recording, Severity
from wattwitness.readers.build import RawRows, build_recording
from wattwitness.readers.csv_dialect import Delimiter, split_lines
from wattwitness.readers.csv_numbers import MISSING, parse_number
from wattwitness.readers.csv_text import detect_encoding
from wattwitness.readers.reader import MEBIBYTE, FileHead, OpenedFile, Reader
from wattwitness.readers.spot_mark import MARK, is_spot_text
from wattwitness.readers.words import count_of

FORMAT_NAME = "spot"
COLUMNS: Mapping[str, ChannelName] = {
    "shows_w": ChannelName.POWER,
    "shows_rpm": ChannelName.CADENCE,
    "shows_bpm": ChannelName.HEART_RATE,
}
_KNOWN = ("at", *COLUMNS, "note")
_AT = re.compile(r"(?:([0-9]{1,3}):)?([0-9]{1,3}):([0-9]{2}(?:[.,][0-9]{1,3})?)")
_KEY = re.compile(r"#\s*([A-Za-z_ ]+?)\s*:\s*(.*?)[\s,;]*")
_OFFSET = re.compile(r"([+-])([0-9]{1,2}):?([0-9]{2})")
_DAY_S = 86_400.0
_SHOWN_MISTAKES = 5
_MAX_KEY_CHARS = 200


@dataclass(slots=True)
class _Sheet:
    """What has been read so far of one file."""

    delimiter: Delimiter = ","
    columns: tuple[str, ...] = ()
    day_s: float | None = None
    offset_s: float = 0.0
    times_s: list[float] = field(default_factory=list)
    values: dict[str, list[float]] = field(default_factory=dict)
    mistakes: list[str] = field(default_factory=list)


def sniff_spot(head: FileHead) -> bool:
    """Say whether the file begins as spot readings do."""
    encoding = detect_encoding(head.first_bytes)
    return is_spot_text(head.first_bytes.decode(encoding, errors="replace").replace("\0", ""))


def read_spot(opened: OpenedFile) -> tuple[Recording, ...]:
    """Read spot readings. Raises SpotReadingInvalid with every mistyped line, or NoSamples."""
    text = opened.content.decode(detect_encoding(opened.content), errors="replace").replace("\0", "")
    sheet = _Sheet()
    for number, line in enumerate(re.split(r"\r\n|\r|\n", text.lstrip("\ufeff")), start=1):
        _read_line(sheet, number, line)
    if not sheet.columns and not sheet.mistakes:
        sheet.mistakes.append("There is no line of headings, such as: at, shows_w")
    if sheet.mistakes:
        raise _invalid(sheet.mistakes, opened.file_name)
    if not sheet.times_s:
        raise NoSamples(
            "There are headings but no readings below them.",
            where=opened.file_name,
            hint="Write one line for each reading: the time, then what the display showed.",
        )
    dated = sheet.day_s is not None
    time_s = np.array(sheet.times_s) + (0.0 if sheet.day_s is None else sheet.day_s - sheet.offset_s)
    rows = RawRows(
        time_s=time_s,
        dated=dated,
        channels={COLUMNS[name]: np.array(values) for name, values in sheet.values.items()},
    )
    message = f"{count_of(time_s.size, 'spot reading')} of a display; nothing is known of what it showed between them."
    notice = Notice(slug="spot_readings", message=message, severity=Severity.NOTE, samples=int(time_s.size))
    recording = build_recording(rows, source=opened.source(FORMAT_NAME), notices=(notice,), event_driven=False)
    return (replace(recording, spot=True),)


def _invalid(mistakes: Sequence[str], name: str) -> SpotReadingInvalid:
    more = len(mistakes) - _SHOWN_MISTAKES
    what = " ".join(f"{mistake}." for mistake in mistakes[:_SHOWN_MISTAKES])
    if more > 0:
        what += f" And {count_of(more, 'more mistake')}."
    hint = f"Correct what is named. A file begins with “{MARK}”, then headings such as “at, shows_w”, then “0:30, 148”."
    return SpotReadingInvalid(what, where=name, hint=hint)


def _read_line(sheet: _Sheet, number: int, line: str) -> None:
    text = line.strip().strip('"') if line.lstrip().startswith(('"#', "#")) else line
    if not text.strip(" \t,;"):
        return
    if text.lstrip().startswith("#"):
        _read_key(sheet, number, text.strip())
    elif not sheet.columns:
        _read_headings(sheet, number, text)
    else:
        _read_reading(sheet, number, text)


def _read_key(sheet: _Sheet, number: int, line: str) -> None:
    match = _KEY.fullmatch(line) if len(line) <= _MAX_KEY_CHARS else None
    key = match.group(1).lower().replace(" ", "_") if match else ""
    if match is None or key not in ("date", "utc_offset"):
        return
    value = match.group(2).strip()
    if key == "date":
        try:
            day = date.fromisoformat(value)
        except ValueError:
            sheet.mistakes.append(
                f"Line {number}: “{value[:40]}” is no date; expected year-month-day, such as 2026-01-12"
            )
            return
        sheet.day_s = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()
        return
    offset = _OFFSET.fullmatch(value)
    if offset is None:
        sheet.mistakes.append(f"Line {number}: “{value[:40]}” is no offset; expected hours and minutes, such as +01:00")
        return
    sign, hours, minutes = offset.groups()
    sheet.offset_s = (-1 if sign == "-" else 1) * (int(hours) * 3600.0 + int(minutes) * 60.0)


def _read_headings(sheet: _Sheet, number: int, line: str) -> None:
    delimiters: tuple[Delimiter, ...] = ("\t", ";", ",")
    sheet.delimiter = next((delimiter for delimiter in delimiters if delimiter in line), ",")
    names = [cell.strip().lower() for cell in split_lines([line], sheet.delimiter)[0]]
    while names and not names[-1]:
        names.pop()
    sheet.columns = tuple(names)
    unknown = [name for name in names if name not in _KNOWN]
    if unknown:
        sheet.mistakes.append(f"Line {number}: “{unknown[0][:40]}” is no heading; known are: {', '.join(_KNOWN)}")
    elif len(set(names)) != len(names):
        sheet.mistakes.append(f"Line {number}: a heading stands twice")
    elif "at" not in names or not set(COLUMNS) & set(names):
        sheet.mistakes.append(f"Line {number}: expected the headings “at” and at least one of {', '.join(COLUMNS)}")
    else:
        sheet.values = {name: [] for name in names if name in COLUMNS}


def _read_reading(sheet: _Sheet, number: int, line: str) -> None:
    if not sheet.values:
        return
    cells = [cell.strip() for cell in split_lines([line], sheet.delimiter)[0]]
    while len(cells) > len(sheet.columns) and not cells[-1]:
        cells.pop()
    if len(cells) > len(sheet.columns) and sheet.columns[-1] != "note":
        expected = count_of(len(sheet.columns), "cell")
        sheet.mistakes.append(f"Line {number}: {len(cells)} cells, expected {expected} ({', '.join(sheet.columns)})")
        return
    row = dict(zip(sheet.columns, [*cells, *[""] * len(sheet.columns)], strict=False))
    at_s = _seconds(sheet, number, row["at"])
    values = {name: _shown(sheet, number, name, row[name]) for name in sheet.values}
    if at_s is None or None in values.values():
        return
    if sheet.times_s and at_s <= sheet.times_s[-1]:
        at_s += _DAY_S if sheet.day_s is not None and sheet.times_s[-1] - at_s > _DAY_S / 2 else 0.0
        if at_s <= sheet.times_s[-1]:
            sheet.mistakes.append(f"Line {number}: {row['at']} is not later than the reading before it")
            return
    sheet.times_s.append(at_s)
    for name, value in values.items():
        sheet.values[name].append(float("nan") if value is None else value)


def _seconds(sheet: _Sheet, number: int, text: str) -> float | None:
    """The time of a reading: m:ss or h:mm:ss; h:mm where the sheet is dated and only two parts are given."""
    match = _AT.fullmatch(text)
    if match is not None:
        hours, minutes, seconds = match.groups()
        if hours is None and sheet.day_s is not None:
            hours, minutes, seconds = minutes, seconds, "0"
        value = int(hours or 0) * 3600 + float(minutes.replace(",", ".")) * 60 + float(seconds.replace(",", "."))
        over = float(seconds.replace(",", ".")) >= 60 or (hours is not None and float(minutes.replace(",", ".")) >= 60)
        if not over and (sheet.day_s is None or value < _DAY_S):
            return value
    expected = "the time of day, such as 13:45:10" if sheet.day_s is not None else "m:ss or h:mm:ss, such as 12:05"
    sheet.mistakes.append(f"Line {number}: “{text[:40]}” is no time; expected {expected}")
    return None


def _shown(sheet: _Sheet, number: int, name: str, text: str) -> float | None:
    if text.lower() in MISSING:
        return float("nan")
    value = parse_number(text, "." if sheet.delimiter == "," else ",")
    if value is None or value < 0:
        sheet.mistakes.append(
            f"Line {number}: “{text[:40]}” under {name} is no reading; expected a number of 0 or more, or nothing"
        )
        return None
    return value


READER = Reader(
    name=FORMAT_NAME,
    title="spot readings",
    suffixes=(".csv", ".txt", ".tsv"),
    sniff=sniff_spot,
    read=read_spot,
    limit_bytes=4 * MEBIBYTE,
)
