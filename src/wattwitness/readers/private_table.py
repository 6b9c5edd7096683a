"""Private data in tables and typed readings: lines of words, and columns by what heads them and stands in them."""

from __future__ import annotations

import csv
import io
import re

from wattwitness.model.errors import WattwitnessError
from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.csv_columns import split_words
from wattwitness.readers.csv_plan import plan_table
from wattwitness.readers.csv_text import detect_encoding
from wattwitness.readers.private_found import Found

POSITION_WORDS = frozenset({"lat", "lon", "long", "lng", "latitude", "longitude", "position", "gps", "breitengrad"})
SERIAL_WORDS = frozenset(
    {"serial", "serialnumber", "sn", "device", "deviceid", "unitid", "imei", "mac", "seriennummer"}
)
PERSON_WORDS = frozenset({"weight", "age", "birth", "gender", "sex", "height", "mass", "gewicht", "alter"})
TIME_WORDS = frozenset({"time", "date", "timestamp", "datetime", "zeit", "datum", "utc"})
HEART_WORDS = frozenset({"heart", "heartrate", "hr", "bpm", "puls", "pulse"})
_NOT_TEXT = re.compile(r"[\s\d.,:;+\-/TZ%°]*(?:[a-zA-Z/%]{0,4})")
ROWS = 500_000


KINDS = (
    (PrivateKind.POSITION, POSITION_WORDS),
    (PrivateKind.SERIAL, SERIAL_WORDS),
    (PrivateKind.PERSON, PERSON_WORDS),
    (PrivateKind.HEART, HEART_WORDS),
    (PrivateKind.TIME, TIME_WORDS),
)


def private_in_table(content: bytes) -> tuple[PrivateItem, ...]:
    """All findings in a text file: every line above the table, and every column that is no plain measurement."""
    text = content.decode(detect_encoding(content[:65536]), errors="replace").replace("\0", "").lstrip("\ufeff")
    header_line, delimiter = _layout(content)
    found = Found()
    heads: list[str] = []
    rows = csv.reader(io.StringIO(text), delimiter=delimiter)
    try:
        for number, row in enumerate(rows):
            if number > ROWS:
                found.add(PrivateKind.UNKNOWN, "the rest of the file, which was not searched")
                break
            if rows.line_num == header_line:
                heads = row
            elif rows.line_num < header_line or (row[:1] and row[0].lstrip().startswith("#")):
                _line(row, found)
            else:
                _row(row, heads, found)
    except csv.Error:
        found.add(PrivateKind.UNKNOWN, "the damaged rest of the file, which could not be searched")
    return found.items()


def _layout(content: bytes) -> tuple[int, str]:
    """The line of the headings, from 1 (0: none found), and the delimiter."""
    try:
        plan = plan_table(content, "", None)
    except WattwitnessError:
        return 0, ","
    return plan.layout.header_line, plan.delimiter


def _line(row: list[str], found: Found) -> None:
    """A line above the table, such as ``Rider,Anna`` or ``# serial: 4711``."""
    line = ", ".join(cell.strip() for cell in row if cell.strip())
    if line:
        kind = _kind(line[:60])
        found.add(kind if kind is PrivateKind.SERIAL else PrivateKind.NAME, "lines above the table", line)
        for cell in row[1:]:
            if len(cell.strip()) > 1:
                found.add(kind if kind is PrivateKind.SERIAL else PrivateKind.NAME, "lines above the table", cell)


def _row(row: list[str], heads: list[str], found: Found) -> None:
    for place, cell in enumerate(row):
        if not cell.strip():
            continue
        head = heads[place] if place < len(heads) else f"column {place + 1}"
        kind = _kind(head[:200])
        if kind is not None:
            found.add(kind, f"column {head}", cell if kind in (PrivateKind.SERIAL, PrivateKind.PERSON) else "")
        elif not _NOT_TEXT.fullmatch(cell):
            found.add(PrivateKind.NAME, f"column {head}", cell)


def _kind(text: str) -> PrivateKind | None:
    words = set(split_words(text))
    return next((kind for kind, named in KINDS if words & named), None)
