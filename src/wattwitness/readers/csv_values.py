"""Columns of numbers into the units of a recording, with a word on every conversion and every assumption."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.recording import ChannelName, Notice, Severity
from wattwitness.readers.csv_choose import CHANNEL_WORDS
from wattwitness.readers.csv_units import OUR_SYMBOL, Unit, unit_of

TESTED = {ChannelName.SPEED, ChannelName.TEMPERATURE, ChannelName.LEFT_SHARE}
"""Channels whose unit is told from the size of the numbers where the heading does not say it."""


class UnitUnclear(Exception):
    """The numbers do not fit the unit they would have to be in; the message says why."""


def in_our_unit(channel: ChannelName, values: FloatArray, unit_text: str) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Convert a column, shape (n,), from the unit as written (empty: not said). Raises UnitUnclear."""
    unit = unit_of(channel, unit_text) if unit_text else None
    if unit is None and unit_text and OUR_SYMBOL[channel]:
        if channel is ChannelName.POWER:
            raise UnitUnclear(f"“{unit_text}” is no known unit of power.")
        message = f"“{unit_text}” is no known unit of {CHANNEL_WORDS[channel]}, which was left out."
        return np.full(values.shape, np.nan), (Notice(slug="unit_unknown", message=message),)
    if unit is None:
        return _unit_not_said(channel, values)
    if channel is ChannelName.LEFT_SHARE and unit.is_ours and _is_fraction(values):
        unit = Unit(symbol="fraction", factor=100.0)
    if unit.is_ours:
        return values, ()
    if channel is ChannelName.TEMPERATURE or channel is not ChannelName.RESISTANCE:
        message = f"The {CHANNEL_WORDS[channel]} was converted from {unit.symbol} to {OUR_SYMBOL[channel]}."
        notice = Notice(slug="unit_converted", message=message, severity=Severity.NOTE)
        return unit.factor * values + unit.offset, (notice,)
    return values, ()


def _is_fraction(values: FloatArray) -> bool:
    finite = values[np.isfinite(values)]
    return finite.size > 0 and bool(np.max(finite) <= 1.0) and bool(np.any(finite > 0))


def _unit_not_said(channel: ChannelName, values: FloatArray) -> tuple[FloatArray, tuple[Notice, ...]]:
    finite = values[np.isfinite(values)]
    if channel is ChannelName.POWER and finite.size and 0 < float(np.max(finite)) <= 3.0 and np.any(finite % 1):
        raise UnitUnclear(f"the power is {np.max(finite):g} at most and its heading has no unit: watts or kilowatts?")
    unit = _assumed(channel, finite)
    if unit is None:
        return values, ()
    message = (
        f"The {CHANNEL_WORDS[channel]} has no unit; {unit.symbol} was assumed from its size. "
        "A saved mapping can say otherwise."
    )
    notice = Notice(slug="unit_assumed", message=message, severity=Severity.WARNING)
    return unit.factor * values + unit.offset, (notice,)


def _assumed(channel: ChannelName, finite: FloatArray) -> Unit | None:
    """The unit told from the size of the numbers; None where there is nothing to tell, or only one usual unit."""
    if channel not in TESTED or not finite.size:
        return None
    if channel is ChannelName.LEFT_SHARE:
        return Unit(symbol="fraction", factor=100.0) if _is_fraction(finite) else None
    if channel is ChannelName.TEMPERATURE:
        fahrenheit = float(np.median(finite)) > 50.0
        return Unit(symbol="°F", factor=5 / 9, offset=-160 / 9) if fahrenheit else None
    moving = finite[finite > 0]
    fast = moving.size > 0 and float(np.median(moving)) > 15.0
    return Unit(symbol="km/h", factor=1 / 3.6) if fast else Unit(symbol="m/s")
