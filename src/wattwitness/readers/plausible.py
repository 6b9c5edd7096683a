"""Values that are no measurements: codes for “no value”, and numbers no rider or meter can produce.

They become missing, never zero, and every one is counted in a notice. The limits are common practice of the trade, not
taken from a standard: each lies well outside what riders do, so that a wrong meter is still seen as it is and judged
later; only what cannot be a measurement at all is taken out here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.recording import ChannelName, Notice, Severity
from wattwitness.readers.words import count_of, listed

LONE_SPIKE_W = 3000.0
"""A second above this, with no neighbour above a third of it, is a fault of the recording: a sprint lasts longer."""

SPIKE_NEIGHBOURS = 2
"""Samples looked at on each side of a suspected spike."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plausible:
    """What a channel can hold: values from ``low`` to ``high`` in its own ``unit``, except the ``codes`` for none.

    ``zero_is_missing``: a heart that does not beat was not measured; power and cadence of zero are coasting.
    """

    words: str
    unit: str
    low: float
    high: float
    codes: tuple[float, ...]
    zero_is_missing: bool = False


PLAUSIBLE: Mapping[ChannelName, Plausible] = {
    # 0xFFFF and 0x7FFF are the invalid values of 16-bit fields; the strongest sprinters stay well under 3 kW.
    ChannelName.POWER: Plausible(words="power", unit="W", low=0.0, high=5000.0, codes=(-1.0, 32767.0, 65535.0)),
    # 0xFF is the invalid value of an 8-bit field; 250 rpm is beyond any pedalling on a free wheel.
    ChannelName.CADENCE: Plausible(words="cadence", unit="rpm", low=0.0, high=250.0, codes=(-1.0, 255.0, 65535.0)),
    ChannelName.HEART_RATE: Plausible(
        words="heart-rate", unit="bpm", low=25.0, high=250.0, codes=(-1.0, 255.0, 65535.0), zero_is_missing=True
    ),
    # Torque may be negative on the way up of the pedal.
    ChannelName.TORQUE: Plausible(words="torque", unit="N·m", low=-500.0, high=1000.0, codes=(32767.0, 65535.0)),
    ChannelName.RESISTANCE: Plausible(
        words="resistance", unit="", low=0.0, high=10000.0, codes=(-1.0, 255.0, 32767.0, 65535.0)
    ),
    ChannelName.SPEED: Plausible(
        words="speed", unit="m/s", low=0.0, high=60.0, codes=(-1.0, 65.535, 4294967.295, 65535.0)
    ),
    # 0x7F is the invalid value of a signed 8-bit field.
    ChannelName.TEMPERATURE: Plausible(words="temperature", unit="°C", low=-50.0, high=80.0, codes=(127.0, 255.0)),
    ChannelName.LEFT_SHARE: Plausible(
        words="left-share", unit="%", low=0.0, high=100.0, codes=(-1.0, 127.0, 255.0, 65535.0)
    ),
}


def clean_channel(name: ChannelName, values: FloatArray) -> tuple[FloatArray, tuple[Notice, ...]]:
    """Return ``values`` (shape (n,), file order) with what is no measurement made NaN, and what was done.

    Power also loses lone spikes: see ``LONE_SPIKE_W``.
    """
    rule = PLAUSIBLE[name]
    cleaned = np.array(values, dtype=np.float64)
    notices: list[Notice] = []
    infinite = np.isinf(cleaned)
    coded = np.isin(cleaned, rule.codes)
    if np.any(coded):
        codes = listed([f"{code:g}" for code in np.unique(cleaned[coded])])
        notices.append(
            _notice(rule, "no_value_codes", coded, f"hold{{s}} a code for “no value” ({codes})", Severity.NOTE)
        )
    cleaned[coded] = np.nan
    if rule.zero_is_missing:
        zero = cleaned == 0
        if np.any(zero):
            notices.append(_notice(rule, "no_value_codes", zero, "{is} zero: the sensor saw nothing", Severity.NOTE))
        cleaned[zero] = np.nan
    with np.errstate(invalid="ignore"):
        negative = (cleaned < 0) & (rule.low == 0) & ~infinite
        outside = ((cleaned < rule.low) | (cleaned > rule.high)) & ~negative
    if name is ChannelName.POWER:
        outside |= lone_spikes(np.where(outside | negative, np.nan, cleaned))
    if np.any(negative):
        least = f"down to {cleaned[negative].min():g} {rule.unit}".rstrip()
        notices.append(_notice(rule, "negative_values", negative, f"{{is}} negative ({least})"))
    if np.any(outside):
        far = cleaned[outside][np.argmax(np.abs(cleaned[outside]))]
        extreme = f"such as {far:,.0f} {rule.unit}".rstrip()
        notices.append(_notice(rule, "implausible_values", outside, f"cannot be real ({extreme})"))
    cleaned[negative | outside] = np.nan
    return cleaned, tuple(notices)


def lone_spikes(power_w: FloatArray) -> BoolArray:
    """Say, shape (n,), which samples exceed ``LONE_SPIKE_W`` while no present neighbour reaches a third of them.

    A sample without any present neighbour is no lone spike: there is nothing to hold it against.
    """
    suspects = np.flatnonzero(power_w > LONE_SPIKE_W)
    lone = np.zeros(power_w.shape, dtype=np.bool_)
    for index in suspects:
        near = np.concatenate(
            [power_w[max(0, index - SPIKE_NEIGHBOURS) : index], power_w[index + 1 : index + 1 + SPIKE_NEIGHBOURS]]
        )
        present = near[np.isfinite(near)]
        lone[index] = present.size > 0 and present.max() < power_w[index] / 3
    return lone


def _notice(rule: Plausible, slug: str, touched: BoolArray, what: str, severity: Severity = Severity.WARNING) -> Notice:
    number = int(np.count_nonzero(touched))
    verb = what.replace("{is}", "is" if number == 1 else "are").replace("{s}", "s" if number == 1 else "")
    taken = "it was taken as missing" if number == 1 else "they were taken as missing"
    return Notice(
        slug=slug,
        message=f"{count_of(number, f'{rule.words} value')} {verb}; {taken}.",
        severity=severity,
        samples=number,
    )
