"""Private data in tables and typed readings: lines of words, and columns by what heads them and stands in them."""

from __future__ import annotations

import csv
import io
import re

from wattwitness.model.private_data import PrivateItem, PrivateKind
from wattwitness.readers.csv_columns import split_words
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


def private_in_table(content: bytes) -> tuple[PrivateItem, ...]:
    """All findings in a text file: every line of words above the numbers, and every column of its own kind."""
    text = content.decode(detect_encoding(content[:65536]), errors="replace").replace("\0", "").lstrip("\ufeff")
    delimiter = max(",;\t|", key=text[:4096].count)
    found = Found()
    heads: list[str] = []
    for number, row in enumerate(csv.reader(io.StringIO(text), delimiter=delimiter)):
        if number > ROWS:
            found.add(PrivateKind.UNKNOWN, "the rest of the file, which was not searched")
            break
        words = [cell for cell in row if cell.strip() and not _NOT_TEXT.fullmatch(cell)]
        if len(words) * 2 > len([cell for cell in row if cell.strip()]) and (not heads or len(row) < len(heads)):
            # A line of words: the headings if it is the widest so far, else a line that stands above them.
            if len(row) > 1:
                heads = row
            for cell in words:
                found.add(PrivateKind.NAME, "lines of words and headings", cell)
            continue
        if len(words) * 2 > len(row) and len(row) >= len(heads) and number < 50:
            heads = row
        _row(row, heads, found)
    return found.items()


def _row(row: list[str], heads: list[str], found: Found) -> None:
    for place, cell in enumerate(row):
        if not cell.strip():
            continue
        head = heads[place] if place < len(heads) else f"column {place + 1}"
        words = set(split_words(head[:200]))
        for kind, named in (
            (PrivateKind.POSITION, POSITION_WORDS),
            (PrivateKind.SERIAL, SERIAL_WORDS),
            (PrivateKind.PERSON, PERSON_WORDS),
            (PrivateKind.HEART, HEART_WORDS),
            (PrivateKind.TIME, TIME_WORDS),
        ):
            if words & named:
                value = cell if kind in (PrivateKind.SERIAL, PrivateKind.PERSON) else ""
                found.add(kind, f"column {head}", value)
                break
        else:
            if not _NOT_TEXT.fullmatch(cell):
                found.add(PrivateKind.NAME, f"column {head}", cell)
