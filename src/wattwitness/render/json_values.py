"""Numbers, estimates and flat results as JSON: unrounded, every missing one ``null`` and never zero."""

from __future__ import annotations

import math
from dataclasses import fields
from numbers import Integral
from typing import Any

from wattwitness.model.estimate import Estimate

JsonObject = dict[str, Any]

TEN_DIGITS_REACH = 1000.0
"""Below this ten significant digits are finer than a millionth."""


def json_record(result: Any) -> JsonObject:
    """A flat result under its own field names, which carry their units."""
    return {item.name: json_value(getattr(result, item.name)) for item in fields(result)}


def json_value(value: Any) -> Any:
    """An estimate, a text, a truth, a whole number or a number; anything else is a mistake of ours."""
    if isinstance(value, Estimate):
        return json_estimate(value)
    if isinstance(value, bool | str) or value is None:
        return value
    return int(value) if isinstance(value, Integral) else json_number(value)


def json_number(value: float | None) -> float | None:
    """Ten significant digits, and never coarser than a millionth; missing is ``null``.

    That is more than any number here means, and the same on every machine. The offset of a file without a date is as
    large as the date of the other, yet known to hundredths of a second.
    """
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.10g}") if abs(value) < TEN_DIGITS_REACH else round(value, 6)


def json_estimate(estimate: Estimate) -> JsonObject:
    """An estimate; an end without bound is ``null`` and named in ``open``."""
    head: JsonObject = {
        "value": json_number(estimate.value),
        "low": json_number(estimate.low),
        "high": json_number(estimate.high),
        "level": estimate.level,
    }
    if estimate.not_assessed is not None or head["value"] is None:
        return {
            **dict.fromkeys(("value", "low", "high")),
            "level": estimate.level,
            "not_assessed": estimate.not_assessed or "not_finite",
        }
    head["unit"] = estimate.unit
    if head["low"] is None or head["high"] is None:
        head["open"] = "both" if head["low"] is head["high"] else "low" if head["low"] is None else "high"
    return head
