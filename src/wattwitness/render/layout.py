"""From data units to places on paper: what every static drawing of a chart shares."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Chart, Level, Line, Panel, Points, Scale, Span

MARGIN = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Map:
    """A straight (or logarithmic) way from ``low``..``high`` to ``start``..``end``."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False

    def __call__(self, value: float) -> float:
        """The place of one value."""
        return float(self.many(np.array([value]))[0])

    def many(self, values: FloatArray) -> FloatArray:
        """The places of many values; NaN stays NaN, and so does what a logarithm does not take."""
        low, high = self.low, self.high
        if self.logarithmic:
            positive = np.where(values > 0, values, np.nan)
            values, low, high = np.log(positive), math.log(low), math.log(high)
        return self.start + (values - low) / (high - low) * (self.end - self.start)


def x_range(chart: Chart) -> tuple[float, float]:
    """What the chart fixes, else the range of x over all panels; named places get half a place on either side."""
    if chart.x_range is not None:
        return chart.x_range
    found = [array for panel in chart.panels for mark in panel.marks for array in _xs(mark)]
    finite = np.concatenate([array[np.isfinite(array)] for array in found]) if found else np.array([])
    places = np.array([place for place, _ in chart.x_axis.ticks])
    if chart.x_axis.ticks and chart.x_axis.scale is Scale.LINEAR:
        half = float(np.min(np.diff(places))) / 2 if places.size > 1 else 0.5
        return float(places.min()) - half, float(places.max()) + half
    if finite.size == 0:
        return 0.0, 1.0
    low, high = float(finite.min()), float(finite.max())
    if chart.x_axis.scale is Scale.LOGARITHMIC:
        return (low / 1.15, high * 1.15) if high > low else (low / 2, high * 2)
    if chart.time_axis:
        return min(low, 0.0), high if high > min(low, 0.0) else 1.0
    margin = MARGIN * (high - low) or 1.0
    return low - margin, high + margin


def y_range(panel: Panel) -> tuple[float, float]:
    """What a panel fixes, else what its marks need, with a margin."""
    if panel.y_range is not None:
        return panel.y_range
    found = [array for mark in panel.marks for array in _ys(mark)]
    values = np.concatenate(found) if found else np.array([])
    values = values[np.isfinite(values)]
    if values.size == 0:
        return 0.0, 1.0
    low, high = float(values.min()), float(values.max())
    margin = MARGIN * (high - low) or max(abs(high) * MARGIN, 1.0)
    return low - margin, high + margin


def _xs(mark: Line | Points | Level | Span) -> list[FloatArray]:
    if isinstance(mark, Line | Points):
        return [mark.x]
    return [np.array([mark.start, mark.end])] if isinstance(mark, Span) else []


def _ys(mark: Line | Points | Level | Span) -> list[FloatArray]:
    if isinstance(mark, Line):
        return [mark.y, np.zeros(1)] if mark.filled else [mark.y]
    if isinstance(mark, Points):
        return [mark.y, mark.low, mark.high]
    return [np.array([mark.y, mark.low, mark.high])] if isinstance(mark, Level) else []


def thinned(x: FloatArray, y: FloatArray, most: int) -> tuple[FloatArray, FloatArray]:
    """A line of many points with at most about ``most`` columns: least and greatest of each column, gaps kept.

    No extreme is lost, so a spike of one second stays visible.
    """
    if x.size <= 2 * most:
        return x, y
    size = math.ceil(x.size / most)
    xs: list[float] = []
    ys: list[float] = []
    for start in range(0, x.size, size):
        part = y[start : start + size]
        present = np.flatnonzero(np.isfinite(part))
        if present.size == 0:
            xs.append(float(x[start]))
            ys.append(math.nan)
            continue
        ends = {int(present[np.argmin(part[present])]), int(present[np.argmax(part[present])])}
        for place in sorted(ends):
            xs.append(float(x[start + place]))
            ys.append(float(part[place]))
    return np.array(xs), np.array(ys)
