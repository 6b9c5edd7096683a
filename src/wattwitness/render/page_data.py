"""The series of a time chart as compact JSON for the page's script: whole numbers, each as the step from the last."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Chart, Level, Line, Panel, Points, Span
from wattwitness.render.layout import y_range

SCALE = 10


def is_zoomable(chart: Chart) -> bool:
    """Whether the page's script draws this chart: lines over time, all on one grid of even steps."""
    if not chart.time_axis or not chart.panels:
        return False
    marks = [mark for panel in chart.panels for mark in panel.marks]
    lines = [mark for mark in marks if isinstance(mark, Line)]
    if any(isinstance(mark, Points) for mark in marks) or not lines or lines[0].x.size < 2:
        return False
    grid = lines[0].x
    steps = np.diff(grid)
    even = bool(np.all(np.isfinite(grid)) and steps[0] > 0 and np.allclose(steps, steps[0]))
    return even and all(line.x.shape == grid.shape and np.array_equal(line.x, grid) for line in lines)


def charts_data(charts: list[Chart]) -> str:
    """JSON text for a data block of the page; holds nothing that could end the block or a script."""
    text = json.dumps([_chart(chart) for chart in charts], separators=(",", ":"), allow_nan=False)
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _chart(chart: Chart) -> dict[str, Any]:
    grid = next(mark for panel in chart.panels for mark in panel.marks if isinstance(mark, Line)).x
    return {
        "name": chart.name,
        "start": float(grid[0]),
        "step": float(grid[1] - grid[0]),
        "count": int(grid.size),
        "panels": [_panel(panel) for panel in chart.panels],
    }


def _panel(panel: Panel) -> dict[str, Any]:
    floor, ceiling = y_range(panel)
    return {
        "label": panel.y_axis.label,
        "unit": panel.y_axis.unit,
        "share": panel.height_share,
        "range": [_finite(floor), _finite(ceiling)],
        "lines": [
            {"name": mark.name, "role": mark.role, "filled": mark.filled, "coded": coded(mark.y)}
            for mark in panel.marks
            if isinstance(mark, Line)
        ],
        "levels": [
            {"role": mark.role, "y": _finite(mark.y), "low": _finite(mark.low), "high": _finite(mark.high)}
            for mark in panel.marks
            if isinstance(mark, Level)
        ],
        "spans": [
            {
                "role": mark.role,
                "shading": mark.shading,
                "start": _finite(mark.start),
                "end": _finite(mark.end),
            }
            for mark in panel.marks
            if isinstance(mark, Span)
        ],
    }


def coded(values: FloatArray) -> list[int | list[int]]:
    """Tenths as steps from the last value that was there; a run of n missing values is ``[n]``.

    Undone by ``decoded`` in the page's script: a tenth of a unit is finer than any of these meters shows.
    """
    found: list[int | list[int]] = []
    last = 0
    missing = 0
    for value in values.tolist():
        if not math.isfinite(value):
            missing += 1
            continue
        if missing:
            found.append([missing])
            missing = 0
        tenths = round(value * SCALE)
        found.append(tenths - last)
        last = tenths
    if missing:
        found.append([missing])
    return found


def _finite(value: float) -> float:
    """A number that JSON can hold."""
    return round(float(np.clip(value, -1e12, 1e12)), 6) if not math.isnan(value) else 0.0
