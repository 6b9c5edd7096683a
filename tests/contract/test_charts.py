"""Every chart, on every kind of comparison: units on its axes, words for who cannot see it, and an empty case."""

from __future__ import annotations

import numpy as np
import pytest

from tests.factories import COMPARISONS, HOSTILE_NAME
from wattwitness.charts.registry import CHARTS, ChartSpec
from wattwitness.model.chart import Axis, Chart, Level, Line, Points
from wattwitness.model.comparison import PairComparison

WITHOUT_UNIT = {"interval", "contribution"}
PAIRS = [(name, pair) for name, make in COMPARISONS.items() for pair in make().pairs]


def charts_of(pair: PairComparison) -> list[Chart]:
    return [spec.build(pair) for spec in CHARTS]


@pytest.mark.parametrize("spec", list(CHARTS), ids=lambda spec: spec.name)
@pytest.mark.parametrize("pair", [pair for _, pair in PAIRS], ids=[name for name, _ in PAIRS])
class TestEveryChart:
    def test_is_called_by_the_name_it_is_registered_under(self, spec: ChartSpec, pair: PairComparison) -> None:
        chart = spec.build(pair)
        assert chart.name == spec.name
        assert chart.title

    def test_says_in_words_what_it_shows(self, spec: ChartSpec, pair: PairComparison) -> None:
        chart = spec.build(pair)
        assert len(chart.alt) > 20
        assert chart.alt.endswith("."), chart.alt
        assert bool(chart.panels) is not bool(chart.empty), "either there is something to draw, or a reason"
        assert chart.empty == "" or chart.empty.endswith(".")
        assert bool(chart.caption) is bool(chart.panels)

    def test_has_quantity_and_unit_on_every_axis(self, spec: ChartSpec, pair: PairComparison) -> None:
        chart = spec.build(pair)
        axes: list[Axis] = [chart.x_axis, *(panel.y_axis for panel in chart.panels)]
        for axis in axes:
            assert axis.quantity
            assert axis.unit or (axis.quantity in WITHOUT_UNIT and (axis.ticks or not chart.panels)), axis

    def test_draws_finite_numbers(self, spec: ChartSpec, pair: PairComparison) -> None:
        for panel in spec.build(pair).panels:
            assert panel.marks
            if panel.y_range is not None:
                low, high = panel.y_range
                assert np.isfinite([low, high]).all()
                assert low < high
            for mark in panel.marks:
                assert mark.name
                if isinstance(mark, Line):
                    assert mark.x.shape == mark.y.shape
                    assert not np.isinf(mark.y).any()
                elif isinstance(mark, Points):
                    assert mark.x.shape == mark.y.shape == mark.low.shape == mark.high.shape
                    assert np.isfinite(mark.x).all()
                    assert np.isfinite(mark.y).all()
                    assert not np.isinf(mark.low).any()
                elif isinstance(mark, Level):
                    assert np.isfinite([mark.y, mark.low, mark.high]).all()

    def test_holds_no_control_or_direction_sign_from_a_file(self, spec: ChartSpec, pair: PairComparison) -> None:
        chart = spec.build(pair)
        names = [mark.name for panel in chart.panels for mark in panel.marks]
        for text in (chart.title, chart.caption, chart.alt, chart.empty, *names):
            assert not set(text) & set("\x1b\u202e\u202c\u2028\n")


def test_the_hostile_names_reach_the_charts_at_all() -> None:
    chart = CHARTS.get("panels").build(COMPARISONS["hostile_names"]().pairs[0])
    assert HOSTILE_NAME[:20] in chart.alt


@pytest.mark.parametrize("name", ["reference_without_power", "ambiguous", "no_common_effort", "same_source"])
def test_nothing_about_power_is_drawn_where_none_was_measured(name: str) -> None:
    for chart in charts_of(COMPARISONS[name]().pairs[0]):
        quantities = {panel.y_axis.quantity for panel in chart.panels}
        assert not quantities & {"power", "difference", "unit over reference", "unit minus reference"}


def test_an_ordinary_comparison_fills_every_chart() -> None:
    assert all(chart.panels for chart in charts_of(COMPARISONS["ordinary"]().pairs[0]))
