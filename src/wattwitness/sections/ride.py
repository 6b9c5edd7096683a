"""The ride along its time, with everything on one axis, and its means by minute."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wattwitness.charts import panels
from wattwitness.model.arrays import FloatArray
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit
from wattwitness.words.numbers import clock_time, number, short_duration

NAME = "ride"
TITLE = "The ride"
STRETCHES_S = (60, 120, 300, 600)
MOST_ROWS = 240


def build(comparison: Comparison) -> Section | None:
    """The time panels of each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    chart = panels.build(named.pair)
    yield chart
    if chart.panels:
        yield _means(named)


def _means(named: Named) -> Table:
    """The numbers behind the panels, as means over a minute, or longer where the ride is long."""
    series = named.pair.series
    step_s = next((step for step in STRETCHES_S if series.time_s.size <= step * MOST_ROWS), STRETCHES_S[-1])
    columns = [
        (Column(heading="reference", unit="W"), series.reference_w, 1),
        (Column(heading="reference as the unit would show it", unit="W"), series.expected_w, 1),
        (Column(heading="unit", unit="W"), series.unit_w, 1),
        (Column(heading="difference", unit="%"), series.difference_pct, 1),
        (Column(heading="cadence, reference", unit="rpm"), series.reference_rpm, 0),
        (Column(heading="cadence, unit", unit="rpm"), series.unit_rpm, 0),
        (Column(heading="heart rate, reference", unit="bpm"), series.reference_bpm, 0),
        (Column(heading="heart rate, unit", unit="bpm"), series.unit_bpm, 0),
    ]
    kept = [item for item in columns if bool(np.any(np.isfinite(item[1])))]
    starts = range(0, series.time_s.size, step_s)
    cells = [[number(value, decimals) for value in _mean_of(values, step_s)] for _, values, decimals in kept]
    return Table(
        caption=f"Means over {short_duration(step_s)}, of the seconds that have a sample",
        columns=(Column(heading="from", unit="h:mm:ss"), *(column for column, _, _ in kept)),
        rows=tuple(
            (clock_time(float(series.time_s[start])), *(column[k] for column in cells))
            for k, start in enumerate(starts)
        ),
        folded=True,
    )


def _mean_of(values: FloatArray, step_s: int) -> list[float]:
    """Mean of the present values in each stretch; NaN where there is none."""
    edges = np.arange(0, values.size, step_s)
    present = np.isfinite(values)
    counts = np.add.reduceat(present.astype(float), edges)
    sums = np.add.reduceat(np.where(present, values, 0.0), edges)
    return [float(total / count) if count else float("nan") for total, count in zip(sums, counts, strict=True)]
