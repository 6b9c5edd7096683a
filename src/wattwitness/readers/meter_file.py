"""A meter as its owner describes it: a small TOML file of our own, checked strictly."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.errors import MeterFileInvalid
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides, StatedUncertainty
from wattwitness.readers.words import plain_text

LIMIT_BYTES = 100_000
LONGEST_TEXT = 200

STATED_UNITS = {
    "claim": ("pct", 50.0),
    "zero": ("nm", 20.0),
    "temperature": ("k", 100.0),
    "crank_length": ("mm", 20.0),
    "transmission": ("pct", 50.0),
}
"""Contributions that may be stated under [budget.NAME]: the unit in their keys, and the largest that is plausible."""

Check = Callable[[Any, str, str], Any]


def load_meter_file(path: Path) -> MeterFile:
    """Read and check a meter's description. Raises MeterFileInvalid."""
    try:
        with path.open("rb") as file:
            raw = file.read(LIMIT_BYTES + 1)
    except (OSError, ValueError) as error:
        raise MeterFileInvalid(
            f"The meter file cannot be read: {getattr(error, 'strerror', None) or error}.",
            where=path.name,
            hint="Check the path given with --reference-meter or --unit-meter.",
        ) from error
    if len(raw) > LIMIT_BYTES:
        raise _invalid("The file is far too large for the description of a meter.", path.name)
    try:
        return parse_meter_file(raw.decode("utf-8-sig"), path.name)
    except UnicodeDecodeError as error:
        raise _invalid("The file is not UTF-8 text.", path.name) from error


def parse_meter_file(text: str, name: str = "meter") -> MeterFile:
    """Read and check the text of a meter's description. Raises MeterFileInvalid."""
    try:
        content = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise _invalid(f"The file is not valid TOML: {error}.", name) from error
    known = {**_TOP, "crank": None, "setup": None, "budget": None}
    _refuse_unknown(content, known, "key or table", name)
    top = {key: check(content[key], key, name) for key, check in _TOP.items() if key in content}
    crank = _table(content, "crank", _CRANK, name)
    setup = _table(content, "setup", _SETUP, name)
    put_right = bool(crank.pop("put_right", False))
    if put_right and not {"set_mm", "true_mm"} <= crank.keys():
        raise _invalid("[crank] put_right needs set_mm and true_mm: without both there is nothing to go by.", name)
    return MeterFile(
        name=top.get("name", ""),
        source=name,
        place=top.get("place", Place.UNKNOWN),
        sides=top.get("sides", Sides.UNKNOWN),
        setup=SetupRecord(crank_set_mm=crank.get("set_mm"), crank_true_mm=crank.get("true_mm"), **setup),
        stated=_stated(content.get("budget", {}), name),
        put_right_crank=put_right,
    )


def _stated(budget: Any, name: str) -> dict[str, StatedUncertainty]:
    if not isinstance(budget, dict):
        raise _invalid("“budget” must hold tables, each written as [budget.NAME] on a line of its own.", name)
    _refuse_unknown(budget, STATED_UNITS, "contribution under [budget]", name)
    return {key: _one_stated(budget, key, name) for key in budget}


def _one_stated(budget: Mapping[str, Any], key: str, name: str) -> StatedUncertainty:
    unit, largest = STATED_UNITS[key]
    sizes = {f"half_width_{unit}": "half_width", f"standard_uncertainty_{unit}": "standard_uncertainty"}
    checks: dict[str, Check] = {size: _number(0, largest) for size in sizes} | _STATED
    given = _table(budget, key, checks, name, f"budget.{key}")
    if len(sizes.keys() & given.keys()) == 2:
        raise _invalid(f"[budget.{key}] states both a half-width and a standard uncertainty; keep one.", name)
    if given.get("distribution") is Distribution.NORMAL and f"half_width_{unit}" in given:
        raise _invalid(
            f"[budget.{key}] gives a half-width to a normal distribution, which has none; state its standard "
            "uncertainty (an expanded one divided by its coverage factor).",
            name,
        )
    return StatedUncertainty(**{sizes.get(item, item): value for item, value in given.items()})


def _table(
    content: Mapping[str, Any], key: str, checks: Mapping[str, Check], name: str, title: str = ""
) -> dict[str, Any]:
    value = content.get(key, {})
    title = title or key
    if not isinstance(value, dict):
        raise _invalid(f"“{title}” must be a table, written as [{title}] on a line of its own.", name)
    _refuse_unknown(value, checks, f"key in [{title}]", name)
    return {item: checks[item](value[item], f"[{title}] {item}", name) for item in value}


def _refuse_unknown(given: Mapping[str, Any], known: Mapping[str, Any], what: str, name: str) -> None:
    for key in given:
        if key not in known:
            raise _invalid(f"“{plain_text(key, 60)}” is no {what}; known are: {', '.join(known)}.", name)


def _invalid(what: str, name: str) -> MeterFileInvalid:
    hint = "Correct what is named; the page on describing a meter shows a whole file, and every key may be left out."
    return MeterFileInvalid(what, where=name, hint=hint)


def _number(low: float, high: float) -> Check:
    def check(value: Any, place: str, name: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise _invalid(f"{place} must be a number from {low:g} to {high:g}.", name)
        return float(value)

    return check


def _one_of(options: type[StrEnum]) -> Check:
    def check(value: Any, place: str, name: str) -> StrEnum:
        if not isinstance(value, str) or value not in [option.value for option in options]:
            raise _invalid(f"{place} must be one of: {', '.join(f'“{option.value}”' for option in options)}.", name)
        return options(value)

    return check


def _yes_or_no(value: Any, place: str, name: str) -> bool:
    if not isinstance(value, bool):
        raise _invalid(f"{place} must be true or false, without quotes.", name)
    return value


def _text(value: Any, place: str, name: str) -> str:
    if not isinstance(value, str):
        raise _invalid(f"{place} must be text in quotes.", name)
    return plain_text(value, LONGEST_TEXT)


_TOP: dict[str, Check] = {"name": _text, "place": _one_of(Place), "sides": _one_of(Sides)}
_CRANK: dict[str, Check] = {"set_mm": _number(80, 250), "true_mm": _number(80, 250), "put_right": _yes_or_no}
_SETUP: dict[str, Check] = {
    "zero_taken": _yes_or_no,
    "firmware": _text,
    "battery_pct": _number(0, 100),
    "temperature_c": _number(-40, 60),
    "zero_temperature_c": _number(-40, 60),
    "warm_up_min": _number(0, 600),
    "hours_since_fitted": _number(0, 100_000),
}
_STATED: dict[str, Check] = {
    "distribution": _one_of(Distribution),
    "degrees": _number(1, 1_000_000),
    "origin": _one_of(Origin),
    "source": _text,
    "common": _yes_or_no,
}
