"""A worksheet of hanging weights: a text table of our own, made to be filled in beside the bike.

::

    # hanging weights
    # meter: laboratory pedals
    # date: 2026-01-12
    # latitude_deg: 47.4
    side, position, repeat, step, mass_kg, lever_mm, angle_deg, reading_nm, note
    left, forward, 1, zero_before, 0, , , 0.0
    left, forward, 1, up, 10, 172.5, 0, 16.9

A key whose value is empty, and a row without a reading, count as not filled in; “nan” is no number, and a mistake.
"""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date
from pathlib import Path
from typing import Any

from wattwitness.model.errors import WorksheetInvalid
from wattwitness.model.hanging_weights import HungReading, LoadStep, Side, Worksheet
from wattwitness.readers.csv_dialect import Delimiter, split_lines
from wattwitness.readers.csv_numbers import MISSING, is_number, parse_number
from wattwitness.readers.csv_text import detect_encoding
from wattwitness.readers.words import count_of, plain_text

MARK = "# hanging weights"
COLUMNS = ("side", "position", "repeat", "step", "mass_kg", "lever_mm", "angle_deg", "reading_nm", "note")
NEEDED = ("step", "mass_kg", "lever_mm", "reading_nm")
UNLOADED = (LoadStep.ZERO_BEFORE, LoadStep.ZERO_AFTER)
LIMIT_BYTES = 1_000_000
_SHOWN_MISTAKES = 5
_MAX_KEY_CHARS = 300
_NO_KEYS = {"readings", "source", "sha256"}
_KEY = re.compile(r"#\s*([A-Za-z_0-9]+)\s*:\s*(.*?)[\s,;]*")

NUMBER_KEYS: dict[str, tuple[float, float]] = {
    "gravity_m_s2": (9.7, 9.9),
    "latitude_deg": (-90, 90),
    "height_m": (-500, 9000),
    "mass_uncertainty_pct": (0, 50),
    "lever_uncertainty_mm": (0, 50),
    "angle_uncertainty_deg": (0, 45),
    "resolution_nm": (0, 10),
    "temperature_c": (-40, 60),
}
"""Keys with numbers, each with the range within which it is believed."""

_CELLS: dict[str, tuple[float, float]] = {
    "mass_kg": (0, 500),
    "lever_mm": (10, 1000),
    "angle_deg": (-80, 80),
    "reading_nm": (-2000, 2000),
}


@dataclass(slots=True)
class _Sheet:
    """What has been read so far of one file."""

    delimiter: Delimiter = ","
    columns: tuple[str, ...] = ()
    keys: dict[str, Any] = field(default_factory=dict)
    readings: list[HungReading] = field(default_factory=list)
    mistakes: list[str] = field(default_factory=list)


def load_worksheet(path: Path) -> Worksheet:
    """Read a worksheet. Raises WorksheetInvalid with every mistyped line."""
    try:
        with path.open("rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
    except (OSError, ValueError) as error:
        raise WorksheetInvalid(
            f"The worksheet cannot be read: {getattr(error, 'strerror', None) or error}.",
            where=path.name,
            hint="Check the path, or let --blank write an empty worksheet.",
        ) from error
    if len(raw) > LIMIT_BYTES:
        raise _invalid(["The file is far too large for a worksheet"], path.name)
    worksheet = parse_worksheet(raw.decode(detect_encoding(raw), errors="replace"), path.name)
    return replace(worksheet, sha256=hashlib.sha256(raw).hexdigest())


def parse_worksheet(text: str, name: str = "worksheet") -> Worksheet:
    """Read the text of a worksheet. Raises WorksheetInvalid with every mistyped line."""
    sheet = _Sheet()
    lines = re.split(r"\r\n|\r|\n", text.lstrip("\ufeff"))
    if not lines[0].strip().strip('"').lower().startswith(MARK):
        raise _invalid([f"The first line is not “{MARK}”"], name)
    for number, line in enumerate(lines[1:], start=2):
        _read_line(sheet, number, line)
    if not sheet.columns and not sheet.mistakes:
        sheet.mistakes.append(f"There is no line of headings, such as: {', '.join(COLUMNS)}")
    if not sheet.readings and not sheet.mistakes:
        sheet.mistakes.append("No row has a reading")
    if sheet.mistakes:
        raise _invalid(sheet.mistakes, name)
    meter = sheet.keys.pop("meter", "") or "the meter"
    return Worksheet(meter=meter, source=plain_text(name), readings=tuple(sheet.readings), **sheet.keys)


def _read_line(sheet: _Sheet, number: int, line: str) -> None:
    if "\0" in line:
        sheet.mistakes.append(f"Line {number}: holds a NUL character, which no text has; the file is damaged there")
        return
    text = line.strip(' \t,;"') if line.lstrip().startswith(('"#', "#")) else line
    if not text.strip(" \t,;"):
        return
    if text.lstrip().startswith("#"):
        _read_key(sheet, number, text.strip())
    elif not sheet.columns:
        _read_headings(sheet, number, text)
    else:
        _read_row(sheet, number, text)


def _read_key(sheet: _Sheet, number: int, line: str) -> None:
    match = _KEY.fullmatch(line) if len(line) <= _MAX_KEY_CHARS else None
    if match is None:
        return
    key, value = match.group(1).lower(), match.group(2).strip()
    known = {item.name for item in fields(Worksheet)} - _NO_KEYS
    if key not in known:
        sheet.mistakes.append(
            f"Line {number}: “{plain_text(key, 40)}” is no key; known are: {', '.join(sorted(known))}"
        )
    elif not value:
        return
    elif key == "meter":
        sheet.keys[key] = plain_text(value, 60)
    elif key == "date":
        try:
            sheet.keys[key] = date.fromisoformat(value).isoformat()
        except ValueError:
            expected = "expected year-month-day, such as 2026-01-12"
            sheet.mistakes.append(f"Line {number}: “{plain_text(value, 40)}” is no date; {expected}")
    else:
        found = _number(sheet, number, key, value, NUMBER_KEYS[key], "," if "," in value else ".")
        if not math.isnan(found):
            sheet.keys[key] = found


def _read_headings(sheet: _Sheet, number: int, line: str) -> None:
    delimiters: tuple[Delimiter, ...] = ("\t", ";", ",")
    sheet.delimiter = next((delimiter for delimiter in delimiters if delimiter in line), ",")
    names = [cell.strip().lower() for cell in split_lines([line], sheet.delimiter)[0]]
    while names and not names[-1]:
        names.pop()
    sheet.columns = tuple(names)
    unknown = [name for name in names if name not in COLUMNS]
    missing = [name for name in NEEDED if name not in names]
    if unknown:
        known = ", ".join(COLUMNS)
        sheet.mistakes.append(f"Line {number}: “{plain_text(unknown[0], 40)}” is no heading; known are: {known}")
    elif len(set(names)) != len(names):
        sheet.mistakes.append(f"Line {number}: a heading stands twice")
    elif missing:
        sheet.mistakes.append(f"Line {number}: the heading {missing[0]} is missing")


def _read_row(sheet: _Sheet, number: int, line: str) -> None:
    cells = [cell.strip() for cell in split_lines([line], sheet.delimiter)[0]]
    while len(cells) > len(sheet.columns) and not cells[-1]:
        cells.pop()
    if len(cells) > len(sheet.columns) and sheet.columns[-1] != "note":
        sheet.mistakes.append(f"Line {number}: {len(cells)} cells, expected {count_of(len(sheet.columns), 'cell')}")
        return
    beyond = cells[len(sheet.columns) - 1 :] if sheet.columns[-1] == "note" else []
    if sheet.delimiter == "," and any(cell and is_number(cell) for cell in beyond):
        sheet.mistakes.append(
            f"Line {number}: a number stands where the note belongs; with decimal commas part the cells by semicolons"
        )
        return
    row = dict(zip(sheet.columns, [*cells, *[""] * len(sheet.columns)], strict=False))
    reading = row.get("reading_nm", "").lower()
    if reading in MISSING:
        _refuse_nan(sheet, number, "reading_nm", reading)
        return
    before = len(sheet.mistakes)
    step = _one_of(sheet, number, "step", row["step"], LoadStep)
    side = _one_of(sheet, number, "side", row.get("side") or Side.BOTH.value, Side)
    repeat = _whole(sheet, number, row.get("repeat") or "1")
    decimal = "." if sheet.delimiter == "," else ","
    values = {name: _number(sheet, number, name, row.get(name, ""), limits, decimal) for name, limits in _CELLS.items()}
    if len(sheet.mistakes) == before:
        sheet.mistakes += [f"Line {number}: {words}" for words in _what_does_not_hang_together(step, values)]
    if len(sheet.mistakes) > before:
        return
    sheet.readings.append(
        HungReading(
            side=Side(side),
            position=plain_text(row.get("position") or "as it was", 40),
            repeat=repeat,
            step=LoadStep(step),
            line=number,
            **{name: 0.0 if math.isnan(value) else value for name, value in values.items()},
        )
    )


def _what_does_not_hang_together(step: str, values: dict[str, float]) -> list[str]:
    """What a row with sound cells still lacks or says twice."""
    mass_kg = values["mass_kg"]
    if step in UNLOADED:
        return [] if math.isnan(mass_kg) or mass_kg == 0 else [f"{step} is unloaded, yet a mass is given"]
    if mass_kg == 0:
        return ["nothing hangs here; the step is then zero_before or zero_after"]
    return [f"a loaded row needs {name}" for name in ("mass_kg", "lever_mm") if math.isnan(values[name])]


def _one_of(sheet: _Sheet, number: int, name: str, text: str, options: type[LoadStep] | type[Side]) -> str:
    known = [option.value for option in options]
    word = text.strip().lower()
    if word not in known:
        sheet.mistakes.append(f"Line {number}: “{plain_text(text, 40)}” is no {name}; expected {', '.join(known)}")
    return word


def _whole(sheet: _Sheet, number: int, text: str) -> int:
    if not re.fullmatch(r"[0-9]{1,4}", text):
        sheet.mistakes.append(f"Line {number}: “{plain_text(text, 40)}” under repeat is no whole number")
        return 0
    return int(text)


def _number(sheet: _Sheet, number: int, name: str, text: str, limits: tuple[float, float], decimal: str) -> float:
    """The number; NaN where there is none, or where it is something else, which is noted."""
    if text.lower() in MISSING:
        _refuse_nan(sheet, number, name, text)
        return math.nan
    value = parse_number(text, decimal)
    if value is None or not limits[0] <= value <= limits[1]:
        low, high = limits
        sheet.mistakes.append(
            f"Line {number}: “{plain_text(text, 40)}” under {name} is no number from {low:g} to {high:g}"
        )
        return math.nan
    return value


def _refuse_nan(sheet: _Sheet, number: int, name: str, text: str) -> None:
    """Note a number gone wrong: a program wrote it, where a person would have left the cell empty."""
    if text.lower() == "nan":
        sheet.mistakes.append(f"Line {number}: “nan” under {name} is no number; leave it empty where it is not known")


def _invalid(mistakes: Sequence[str], name: str) -> WorksheetInvalid:
    more = len(mistakes) - _SHOWN_MISTAKES
    what = " ".join(f"{mistake}." for mistake in mistakes[:_SHOWN_MISTAKES])
    if more > 0:
        what += f" And {count_of(more, 'more mistake')}."
    hint = "Correct what is named. “wattwitness weigh --blank FILE” writes an empty worksheet to start from."
    return WorksheetInvalid(what, where=plain_text(name), hint=hint)
