"""What the charts share: points with intervals, charts without data, and the range an axis shows."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Level, Points, Role
from wattwitness.model.estimate import Estimate

ELAPSED = Axis(quantity="time into the ride", unit="h:mm:ss")
BIAS = Axis(quantity="unit over reference", unit="%")
DIFFERENCE = Axis(quantity="difference", unit="%")
POWER = Axis(quantity="power", unit="W")


def estimate_points(name: str, role: Role, x: Sequence[float], estimates: Sequence[Estimate]) -> Points:
    """One point for each assessed estimate, with its interval; an open end shows as a missing one."""
    assessed = [(at, estimate) for at, estimate in zip(x, estimates, strict=True) if estimate.assessed]
    return Points(
        name=name,
        role=role,
        x=np.array([at for at, _ in assessed], dtype=float),
        y=_column([estimate.value for _, estimate in assessed]),
        low=_finite(_column([estimate.low for _, estimate in assessed])),
        high=_finite(_column([estimate.high for _, estimate in assessed])),
    )


def estimate_level(name: str, role: Role, estimate: Estimate) -> Level | None:
    """A line at an estimate's value with its interval around; ``None`` where not assessed or without bounds."""
    numbers = (estimate.value, estimate.low, estimate.high)
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return None
    if not all(number is not None and np.isfinite(number) for number in numbers):
        return None
    return Level(name=name, role=role, y=estimate.value, low=estimate.low, high=estimate.high)


def zero_level() -> Level:
    """The line of no difference."""
    return Level(name="no difference", role=Role.LIMIT, y=0.0, low=0.0, high=0.0)


def without_data(name: str, title: str, x_axis: Axis, why: str) -> Chart:
    """A chart that has nothing to draw, and says why."""
    sentence = why if why.endswith(".") else f"{why}."
    sentence = sentence[:1].upper() + sentence[1:]
    return Chart(
        name=name,
        title=title,
        caption="",
        alt=f"{title}: nothing to draw. {sentence}",
        x_axis=x_axis,
        panels=(),
        empty=sentence,
    )


def shown_range(*values: FloatArray, least: float, share: float = 0.99) -> tuple[float, float]:
    """The range that holds zero and the middle ``share`` of each of ``values``, at least ``least`` wide, with a margin.

    A single wild value must not flatten everything else; what lies outside is cut by the panel's edge.
    """
    low, high = 0.0, 0.0
    for array in values:
        finite = array[np.isfinite(array)]
        if finite.size:
            tail = (1 - share) / 2
            low = min(low, float(np.quantile(finite, tail)))
            high = max(high, float(np.quantile(finite, 1 - tail)))
    if high - low < least:
        middle = (low + high) / 2
        low, high = min(low, middle - least / 2), max(high, middle + least / 2)
    margin = 0.08 * (high - low)
    return low - margin, high + margin


def _column(values: Sequence[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, np.nan)
