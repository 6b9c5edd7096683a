"""A saved mapping: the tester's word on what a table's columns mean. A small TOML file of our own, checked strictly."""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast, get_args

from wattwitness.model.errors import MappingInvalid
from wattwitness.model.recording import ChannelName
from wattwitness.readers.csv_dialect import Decimal, Delimiter
from wattwitness.readers.csv_time_kinds import DateOrder, TimeKind
from wattwitness.readers.csv_units import UNITS, unit_of

ColumnRef = str | int
"""A column by its heading, or by its number from 1."""

DELIMITER_WORDS: Mapping[str, Delimiter] = {",": ",", ";": ";", "|": "|", "tab": "\t", "blanks": " "}
LIMIT_BYTES = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMapping:
    """What a saved mapping says; ``None`` or empty where it leaves a thing to be found in the file.

    ``time`` holds one column, or a date and a clock column; several columns of a channel (power only) are added up.
    """

    time: tuple[ColumnRef, ...] = ()
    channels: Mapping[ChannelName, tuple[ColumnRef, ...]] = field(default_factory=dict)
    units: Mapping[ChannelName, str] = field(default_factory=dict)
    time_kind: TimeKind | None = None
    date_order: DateOrder | None = None
    utc_offset_min: float | None = None
    step_s: float | None = None
    delimiter: Delimiter | None = None
    decimal: Decimal | None = None
    header_line: int | None = None
    encoding: str | None = None


def load_mapping(path: Path) -> ColumnMapping:
    """Read and check a saved mapping. Raises MappingInvalid."""
    try:
        with path.open("rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
    except (OSError, ValueError) as error:
        raise MappingInvalid(
            f"The mapping cannot be read: {getattr(error, 'strerror', None) or error}.",
            where=path.name,
            hint="Check the path given with --mapping.",
        ) from error
    if len(raw) > LIMIT_BYTES:
        raise _invalid("The file is far too large for a mapping.", path.name)
    try:
        return parse_mapping(raw.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise _invalid("The file is not UTF-8 text.", path.name) from error


def parse_mapping(text: str, name: str = "mapping") -> ColumnMapping:
    """Read and check the text of a mapping. Raises MappingInvalid."""
    try:
        content = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise _invalid(f"The file is not valid TOML: {error}.", name) from error
    _refuse_unknown(content, _TABLES, "table", name)
    for table, value in content.items():
        if not isinstance(value, dict):
            raise _invalid(f"“{table}” must be a table, written as [{table}] on a line of its own.", name)
        _refuse_unknown(value, _TABLES[table], f"key in [{table}]", name)
    checked: dict[str, Any] = {}
    for table, keys in _TABLES.items():
        for key, value in content.get(table, {}).items():
            checked[f"{table}.{key}"] = keys[key](value, f"[{table}] {key}", name)
    return _assemble(checked, name)


def _assemble(checked: Mapping[str, Any], name: str) -> ColumnMapping:
    channels = {item: checked[f"columns.{item}"] for item in ChannelName if f"columns.{item}" in checked}
    units = {item: checked[f"units.{item}"] for item in ChannelName if f"units.{item}" in checked}
    for channel, refs in channels.items():
        if len(refs) > 1 and channel is not ChannelName.POWER:
            raise _invalid(f"[columns] {channel} names several columns; only those of power_w can be added up.", name)
    for channel in units:
        if channel not in channels:
            raise _invalid(f"[units] has {channel}, but [columns] has not.", name)
    time = checked.get("columns.time", ())
    kind = checked.get("time.kind")
    if kind is TimeKind.ROW_NUMBER and time:
        raise _invalid("[time] kind is “row_number”, so [columns] must not name a time column.", name)
    if "time.step_s" in checked and kind is not TimeKind.ROW_NUMBER:
        raise _invalid("[time] step_s goes with kind = “row_number” only.", name)
    if not channels:
        raise _invalid("[columns] names no channel; take the “#” off the line that is right.", name)
    return ColumnMapping(
        time=time,
        channels=channels,
        units=units,
        time_kind=kind,
        date_order=checked.get("time.date_order"),
        utc_offset_min=checked.get("time.utc_offset_min"),
        step_s=checked.get("time.step_s"),
        delimiter=checked.get("table.delimiter"),
        decimal=checked.get("table.decimal"),
        header_line=checked.get("table.header_line"),
        encoding=checked.get("table.encoding"),
    )


def _invalid(what: str, name: str) -> MappingInvalid:
    hint = "Let “wattwitness inspect FILE --save-mapping MAPPING” write one that fits the file, and edit that."
    return MappingInvalid(what, where=name, hint=hint)


def _refuse_unknown(given: Mapping[str, Any], known: Mapping[str, Any], what: str, name: str) -> None:
    for key in given:
        if key not in known:
            raise _invalid(f"“{key[:60]}” is no {what}; known are: {', '.join(known)}.", name)


def _columns(value: Any, place: str, name: str) -> tuple[ColumnRef, ...]:
    refs = value if isinstance(value, list) else [value]
    for ref in refs:
        text = isinstance(ref, str) and ref.strip() != ""
        number = isinstance(ref, int) and not isinstance(ref, bool) and ref >= 1
        if not (text or number):
            raise _invalid(f"{place} must be a heading in quotes, or a column's number from 1.", name)
    if not refs or len(set(refs)) != len(refs):
        raise _invalid(f"{place} must name at least one column, and none twice.", name)
    return tuple(refs)


def _time_columns(value: Any, place: str, name: str) -> tuple[ColumnRef, ...]:
    refs = _columns(value, place, name)
    if len(refs) > 2:
        raise _invalid(f"{place} must be one column, or a date column and a clock column.", name)
    return refs


def _unit(channel: ChannelName) -> Callable[[Any, str, str], str]:
    def check(value: Any, place: str, name: str) -> str:
        if not isinstance(value, str) or unit_of(channel, value) is None:
            known = ", ".join(dict.fromkeys(unit.symbol for unit in UNITS[channel].values() if unit.symbol)) or "%"
            raise _invalid(f"{place} is no known unit; known are: {known}.", name)
        return value

    return check


def _one_of(options: Mapping[str, Any]) -> Callable[[Any, str, str], Any]:
    def check(value: Any, place: str, name: str) -> Any:
        if not isinstance(value, str) or value not in options:
            raise _invalid(f"{place} must be one of: {', '.join(f'“{option}”' for option in options)}.", name)
        return options[value]

    return check


def _number(low: float, high: float) -> Callable[[Any, str, str], float]:
    def check(value: Any, place: str, name: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise _invalid(f"{place} must be a number from {low:g} to {high:g}.", name)
        return float(value)

    return check


def _line_number(value: Any, place: str, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 2000:
        raise _invalid(f"{place} must be the number of a line from 1 to 2000, or 0 where there are no headings.", name)
    return value


def _encoding(value: Any, place: str, name: str) -> str:
    try:
        return codecs.lookup(cast(str, value)).name
    except (LookupError, TypeError, ValueError) as error:
        raise _invalid(f"{place} is no known encoding; try “utf-8”, “utf-16” or “latin-1”.", name) from error


_TABLES: Mapping[str, Mapping[str, Callable[[Any, str, str], Any]]] = {
    "table": {
        "delimiter": _one_of(DELIMITER_WORDS),
        "decimal": _one_of({sign: sign for sign in get_args(Decimal)}),
        "header_line": _line_number,
        "encoding": _encoding,
    },
    "time": {
        "kind": _one_of({kind.value: kind for kind in TimeKind}),
        "date_order": _one_of({order.value: order for order in DateOrder}),
        "utc_offset_min": _number(-24 * 60, 24 * 60),
        "step_s": _number(0.01, 3600),
    },
    "columns": {"time": _time_columns, **{channel.value: _columns for channel in ChannelName}},
    "units": {channel.value: _unit(channel) for channel in ChannelName},
}
