"""A meter's description as the small TOML file that ``readers/meter_file.py`` reads."""

from __future__ import annotations

import json
from collections.abc import Iterator

from wattwitness.model.setup import MeterFile, StatedUncertainty

SETUP_KEYS = (
    "zero_taken",
    "firmware",
    "battery_pct",
    "temperature_c",
    "zero_temperature_c",
    "warm_up_min",
    "hours_since_fitted",
)
UNITS = {"claim": "pct", "zero": "nm", "temperature": "k", "crank_length": "mm", "transmission": "pct"}
"""Contributions that may be stated, and the unit in their keys."""


def meter_toml(meter: MeterFile) -> str:
    """The description as text; what is not known is left out. The name of the file it came from stays out."""
    return "\n".join(_lines(meter)) + "\n"


def _lines(meter: MeterFile) -> Iterator[str]:
    if meter.name:
        yield _pair("name", meter.name)
    yield _pair("place", meter.place.value)
    yield _pair("sides", meter.sides.value)
    setup = meter.setup
    yield from _table(
        "crank",
        {
            "set_mm": setup.crank_set_mm,
            "true_mm": setup.crank_true_mm,
            "put_right": True if meter.put_right_crank else None,
        },
    )
    yield from _table("setup", {key: None if (value := getattr(setup, key)) == "" else value for key in SETUP_KEYS})
    for name, stated in meter.stated.items():
        yield from _table(f"budget.{name}", _stated(stated, UNITS[name]))


def _stated(stated: StatedUncertainty, unit: str) -> dict[str, object]:
    return {
        f"half_width_{unit}": stated.half_width,
        f"standard_uncertainty_{unit}": stated.standard_uncertainty,
        "distribution": None if stated.distribution is None else stated.distribution.value,
        "degrees": stated.degrees,
        "origin": None if stated.origin is None else stated.origin.value,
        "source": stated.source or None,
        "common": stated.common,
    }


def _table(title: str, values: dict[str, object]) -> Iterator[str]:
    known = {key: value for key, value in values.items() if value is not None}
    if known:
        yield ""
        yield f"[{title}]"
        for key, value in known.items():
            yield _pair(key, value)


def _pair(key: str, value: object) -> str:
    if isinstance(value, bool):
        return f"{key} = {'true' if value else 'false'}"
    if isinstance(value, str):
        # A JSON string without escapes beyond the basic ones is a TOML string too.
        return f"{key} = {json.dumps(value, ensure_ascii=False)}"
    return f"{key} = {value!r}"
