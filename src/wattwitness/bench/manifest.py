"""What stands in a catalogue as one text of JSON, and back again: checked to the last cell before anything is written.

The text comes from another machine and may have been made to do harm. Nothing in it is run; a table, a column, a type,
a name or a number that this program would not have written is refused.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from datetime import date
from typing import Any

import sqlalchemy as sa

from wattwitness.bench.catalogue import HEAD
from wattwitness.bench.changes import CHANGED, checked_back
from wattwitness.bench.json_form import from_text
from wattwitness.bench.notes import About
from wattwitness.bench.tables import LONE_RECORDINGS, METADATA, PUT_AWAY, RESULTS
from wattwitness.model.claim import Claim
from wattwitness.model.ride_list import ListedStudy

FORMAT = "wattwitness bench"
EDITION = 1
TABLES = tuple(table for table in METADATA.sorted_tables if table is not RESULTS)
"""Figures that were computed elsewhere are not taken on trust: they are computed again."""

ADDED = {
    "0002": {
        "lone_recordings": set(LONE_RECORDINGS.c.keys()),
        "put_away": set(PUT_AWAY.c.keys()),
        "rides": {"reference_mapping_sha256", "unit_mapping_sha256"},
    }
}
"""Columns that a catalogue of an older step does not have yet, by table; its rows are the same otherwise."""

MOST_PARTS = 10_000
MOST_OFFSET_S = 1e9
MOST_LETTERS = 2_000_000
MOST_NAME_LETTERS = 1000
WHOLE = re.compile(r"-?\d{1,18}$")
SHA256 = re.compile(r"[0-9a-f]{64}$")
NO_NAME = re.compile(r"[/\\\x00-\x1f\x7f]")
UNSEEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
LONG = {"text", "back", "question", "claim"}
DAYS = {"day", "since_day"}
Rows = dict[str, list[dict[str, Any]]]


class NoManifest(ValueError):
    """The text is not a manifest that this program wrote; says what is wrong with it."""


class NewerManifest(ValueError):
    """The manifest comes from a newer program."""


def manifest_text(connection: sa.Connection, *, version: str) -> str:
    """Everything in the catalogue but the figures, the same text for the same content."""
    tables = {
        table.name: [list(row) for row in connection.execute(sa.select(table).order_by(*table.primary_key.columns))]
        for table in TABLES
    }
    content = {
        "format": FORMAT,
        "edition": EDITION,
        "catalogue": HEAD,
        "program": version,
        "columns": {table.name: table.c.keys() for table in TABLES},
        "rows": tables,
    }
    return json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def rows_of_manifest(text: str) -> Rows:
    """The rows of each table. Raises NoManifest, NewerManifest."""
    try:
        content = json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant, parse_int=_whole)
    except (ValueError, RecursionError) as error:
        raise NoManifest("its list of contents is no such list") from error
    if not isinstance(content, Mapping) or content.get("format") != FORMAT:
        raise NoManifest("its list of contents is no such list")
    edition, catalogue = content.get("edition"), content.get("catalogue")
    if type(edition) is not int or not isinstance(catalogue, str):
        raise NoManifest("its list of contents does not say its edition")
    if edition > EDITION or (catalogue > HEAD and catalogue.isdigit()):
        raise NewerManifest
    known = catalogue == HEAD or catalogue in ADDED
    if set(content) != {"format", "edition", "catalogue", "program", "columns", "rows"} or not known:
        raise NoManifest("its list of contents is of another form")
    there = {name: columns for name, columns in _columns_of(catalogue).items() if columns}
    if content["columns"] != {name: [column.name for column in columns] for name, columns in there.items()}:
        raise NoManifest("its list of contents names other tables")
    rows = content["rows"]
    if not isinstance(rows, Mapping) or set(rows) != set(there):
        raise NoManifest("its list of contents names other tables")
    found: Rows = {table.name: [] for table in TABLES}
    for table in TABLES:
        columns = there.get(table.name, [])
        found[table.name] = [_row(table, columns, row) for row in _list(rows.get(table.name, []), table.name)]
    _check_sense(found)
    return found


def _columns_of(catalogue: str) -> dict[str, list[sa.Column[Any]]]:
    """The columns of each table as a catalogue of that step has them."""
    added = ADDED.get(catalogue, {})
    return {table.name: [one for one in table.c if one.name not in added.get(table.name, ())] for table in TABLES}


def _check_sense(rows: Rows) -> None:
    """Numbers and pairs that no bench holds, each of them of the right kind. Raises NoManifest."""
    for ride in rows["rides"]:
        parts = [part for part in (ride["reference_part"], ride["unit_part"]) if part is not None]
        same = ride["reference_sha256"] == ride["unit_sha256"] and ride["reference_part"] == ride["unit_part"]
        temperature_c, offset_s = ride["temperature_c"], ride["offset_s"]
        if same or any(not 1 <= part <= MOST_PARTS for part in parts):
            raise NoManifest(f"the ride “{ride['name']}” is made of recordings that make no ride")
        if (temperature_c is not None and not -40 <= temperature_c <= 60) or abs(offset_s or 0.0) > MOST_OFFSET_S:
            raise NoManifest(f"the ride “{ride['name']}” has a temperature or an offset that no ride has")
    for lone in rows["lone_recordings"]:
        if lone["part"] is not None and not 1 <= lone["part"] <= MOST_PARTS:
            raise NoManifest(f"the recording “{lone['name']}” is no part of a file")
    for stretch in rows["stretches"]:
        if not 0 <= stretch["from_s"] < stretch["to_s"] or not stretch["reason"].strip():
            raise NoManifest("a stretch that was left out ends before it begins, or has no reason")


def _row(table: sa.Table, columns: list[sa.Column[Any]], cells: Any) -> dict[str, Any]:
    if len(_list(cells, table.name)) != len(columns):
        raise NoManifest(f"a row of “{table.name}” has too few or too many cells")
    there = {column.name: _cell(table, column, cell) for column, cell in zip(columns, cells, strict=True)}
    return {column.name: there.get(column.name) for column in table.c}


def _cell(table: sa.Table, column: sa.Column[Any], cell: Any) -> Any:
    where = f"“{column.name}” of “{table.name}”"
    if cell is None and column.nullable:
        return None
    if isinstance(column.type, sa.Text):
        return _text(column.name, cell, where)
    if isinstance(column.type, sa.Float):
        if isinstance(cell, bool) or not isinstance(cell, int | float) or not math.isfinite(cell):
            raise NoManifest(f"{where} is no number")
        return float(cell)
    if type(cell) is not int or cell < 0:
        raise NoManifest(f"{where} is no whole number")
    return cell


def _text(name: str, cell: Any, where: str) -> str:
    if not isinstance(cell, str) or len(cell) > (MOST_LETTERS if name in LONG else MOST_NAME_LETTERS):
        raise NoManifest(f"{where} is no text, or is far too long")
    try:
        cell.encode()
        if name.endswith("sha256") and SHA256.match(cell) is None:
            raise ValueError("not a hash")
        if name in DAYS and cell:
            date.fromisoformat(cell)
        if name not in LONG and NO_NAME.search(
            cell if name == "file_name" else cell.replace("/", "").replace("\\", "")
        ):
            raise ValueError("not a name")
        _meaning(name, cell)
    except (ValueError, RecursionError) as error:
        raise NoManifest(f"{where} holds what no bench holds") from error
    return cell


def _meaning(name: str, cell: str) -> None:
    """Read again what a text means, where it means something to the program. Raises ValueError."""
    if name == "question" and from_text(ListedStudy, cell).rides:
        raise ValueError("a question holds no rides")
    if name == "claim":
        from_text(Claim, cell)
    if name == "about":
        About(cell)
    if name == "back":
        for step in checked_back(cell):
            table = CHANGED[step["table"]]
            for column, value in (step["values"] or {}).items():
                _cell(table, table.c[column], value)
    if UNSEEN.search(cell):
        raise ValueError("a sign that no text holds")


def _list(value: Any, name: str) -> list[Any]:
    if not isinstance(value, list):
        raise NoManifest(f"“{name}” is no list")
    return value


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len({key for key, _ in pairs}) != len(pairs):
        raise ValueError("a key stands twice")
    return dict(pairs)


def _no_constant(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def _whole(digits: str) -> int:
    """A whole number that the catalogue can hold; thousands of digits would only take time."""
    if WHOLE.match(digits) is None:
        raise ValueError("a number that no bench holds")
    return int(digits)
