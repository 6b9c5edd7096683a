"""Every chart. A new one is one file beside this and one line below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from wattwitness.charts import (
    best_means,
    bias_by_block,
    bias_by_cadence,
    bias_intervals,
    bias_over_time,
    budget,
    clock_windows,
    difference_by_power,
    limits_of_agreement,
    panels,
    torque_against_torque,
)
from wattwitness.model.chart import Chart
from wattwitness.model.comparison import PairComparison
from wattwitness.model.registry import Registry


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartSpec:
    """A chart under its name, and how it is built."""

    name: str
    build: Callable[[PairComparison], Chart]


CHARTS: Registry[ChartSpec] = Registry(
    "chart",
    [
        ChartSpec(name=panels.NAME, build=panels.build),
        ChartSpec(name=bias_intervals.NAME, build=bias_intervals.build),
        ChartSpec(name=bias_by_block.NAME, build=bias_by_block.build),
        ChartSpec(name=difference_by_power.NAME, build=difference_by_power.build),
        ChartSpec(name=bias_by_cadence.NAME, build=bias_by_cadence.build),
        ChartSpec(name=torque_against_torque.NAME, build=torque_against_torque.build),
        ChartSpec(name=bias_over_time.NAME, build=bias_over_time.build),
        ChartSpec(name=limits_of_agreement.NAME, build=limits_of_agreement.build),
        ChartSpec(name=best_means.NAME, build=best_means.build),
        ChartSpec(name=budget.NAME, build=budget.build),
        ChartSpec(name=clock_windows.NAME, build=clock_windows.build),
    ],
)
