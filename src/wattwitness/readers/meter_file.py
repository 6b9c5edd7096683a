"""A meter as its owner describes it: a small TOML file of our own, checked strictly."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.errors import MeterFileInvalid
from wattwitness.model.setup import MeterFile, Place, SetupRecord, Sides, StatedUncertainty
from wattwitness.readers.toml_checks import (
    Check,
    Invalid,
    a_number,
    a_text,
    checked_table,
    load_toml,
    one_of,
    parse_toml,
    refuse_unknown,
    yes_or_no,
)

LIMIT_BYTES = 100_000

STATED_UNITS = {
    "claim": ("pct", 50.0),
    "zero": ("nm", 20.0),
    "temperature": ("k", 100.0),
    "crank_length": ("mm", 20.0),
    "transmission": ("pct", 50.0),
}
"""Contributions that may be stated under [budget.NAME]: the unit in their keys, and the largest that is plausible."""


def load_meter_file(path: Path) -> MeterFile:
    """Read and check a meter's description. Raises MeterFileInvalid."""
    invalid = partial(_invalid, name=path.name)
    content = load_toml(path, limit_bytes=LIMIT_BYTES, kind="description of a meter", invalid=invalid)
    return _meter(content, path.name, invalid)


def parse_meter_file(text: str, name: str = "meter") -> MeterFile:
    """Read and check the text of a meter's description. Raises MeterFileInvalid."""
    invalid = partial(_invalid, name=name)
    return _meter(parse_toml(text, invalid), name, invalid)


def meter_of_tables(tables: Mapping[str, Any], name: str = "meter") -> MeterFile:
    """The same from keys and tables as data, as a form would give them. Raises MeterFileInvalid."""
    return _meter(tables, name, partial(_invalid, name=name))


def _meter(content: Mapping[str, Any], name: str, invalid: Invalid) -> MeterFile:
    known = {**_TOP, "crank": None, "setup": None, "budget": None}
    refuse_unknown(content, known, "key or table", invalid)
    top = {key: check(content[key], key, invalid) for key, check in _TOP.items() if key in content}
    crank = checked_table(content, "crank", _CRANK, invalid)
    setup = checked_table(content, "setup", _SETUP, invalid)
    put_right = bool(crank.pop("put_right", False))
    if put_right and not {"set_mm", "true_mm"} <= crank.keys():
        raise invalid("[crank] put_right needs set_mm and true_mm: without both there is nothing to go by.")
    return MeterFile(
        name=top.get("name", ""),
        source=name,
        place=top.get("place", Place.UNKNOWN),
        sides=top.get("sides", Sides.UNKNOWN),
        setup=SetupRecord(crank_set_mm=crank.get("set_mm"), crank_true_mm=crank.get("true_mm"), **setup),
        stated=_stated(content.get("budget", {}), invalid),
        put_right_crank=put_right,
    )


def _stated(budget: Any, invalid: Invalid) -> dict[str, StatedUncertainty]:
    if not isinstance(budget, dict):
        raise invalid("“budget” must hold tables, each written as [budget.NAME] on a line of its own.")
    refuse_unknown(budget, STATED_UNITS, "contribution under [budget]", invalid)
    return {key: _one_stated(budget, key, invalid) for key in budget}


def _one_stated(budget: Mapping[str, Any], key: str, invalid: Invalid) -> StatedUncertainty:
    unit, largest = STATED_UNITS[key]
    sizes = {f"half_width_{unit}": "half_width", f"standard_uncertainty_{unit}": "standard_uncertainty"}
    checks: dict[str, Check] = {size: a_number(0, largest) for size in sizes} | _STATED
    given = checked_table(budget, key, checks, invalid, f"budget.{key}")
    if len(sizes.keys() & given.keys()) == 2:
        raise invalid(f"[budget.{key}] states both a half-width and a standard uncertainty; keep one.")
    if given.get("distribution") is Distribution.NORMAL and f"half_width_{unit}" in given:
        raise invalid(
            f"[budget.{key}] gives a half-width to a normal distribution, which has none; state its standard "
            "uncertainty (an expanded one divided by its coverage factor)."
        )
    return StatedUncertainty(**{sizes.get(item, item): value for item, value in given.items()})


def _invalid(what: str, *, name: str) -> MeterFileInvalid:
    hint = "Correct what is named; the page on describing a meter shows a whole file, and every key may be left out."
    return MeterFileInvalid(what, where=name, hint=hint)


_TOP: dict[str, Check] = {"name": a_text, "place": one_of(Place), "sides": one_of(Sides)}
_CRANK: dict[str, Check] = {"set_mm": a_number(80, 250), "true_mm": a_number(80, 250), "put_right": yes_or_no}
_SETUP: dict[str, Check] = {
    "zero_taken": yes_or_no,
    "firmware": a_text,
    "battery_pct": a_number(0, 100),
    "temperature_c": a_number(-40, 60),
    "zero_temperature_c": a_number(-40, 60),
    "warm_up_min": a_number(0, 600),
    "hours_since_fitted": a_number(0, 100_000),
}
_STATED: dict[str, Check] = {
    "distribution": one_of(Distribution),
    "degrees": a_number(1, 1_000_000),
    "origin": one_of(Origin),
    "source": a_text,
    "common": yes_or_no,
}
