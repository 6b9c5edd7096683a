"""Where an axis is marked, and with which words."""

from __future__ import annotations

import math

from wattwitness.model.chart import Axis
from wattwitness.words.numbers import clock_time, number

TIME_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400)

Tick = tuple[float, str]


def ticks(axis: Axis, low: float, high: float, most: int, *, time_axis: bool = False) -> list[Tick]:
    """At most ``most`` places from ``low`` to ``high`` (about, for named ones) and what stands there."""
    if axis.ticks:
        return [tick for tick in axis.ticks if low <= tick[0] <= high] if most > 0 else []
    if time_axis:
        return _time_ticks(low, high, most)
    step = _step(high - low, most)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step - 1e-9)
    signed = first < 0
    last = math.floor(high / step + 1e-9)
    return [(place * step, number(place * step, decimals, signed=signed)) for place in range(first, last + 1)]


def _time_ticks(low: float, high: float, most: int) -> list[Tick]:
    step = next((step for step in TIME_STEPS_S if (high - low) / step <= most), TIME_STEPS_S[-1])
    first = math.ceil(low / step)
    return [(float(place * step), clock_time(place * step)) for place in range(first, math.floor(high / step) + 1)]


def _step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that gives at most ``most`` steps."""
    if not span > 0 or not math.isfinite(span):
        return 1.0
    raw = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * (1 - 1e-9))
