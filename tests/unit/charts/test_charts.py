"""Charts hold what the results say, where they say it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.factories import COMPARISONS, clock, pair, percent, plain, response
from wattwitness.charts import (
    best_means,
    bias_by_block,
    bias_by_cadence,
    bias_intervals,
    clock_windows,
    difference_by_power,
    limits_of_agreement,
    panels,
    zones,
)
from wattwitness.charts.building import estimate_points, shown_range, without_data
from wattwitness.model.agreement import PowerLine
from wattwitness.model.chart import Axis, Chart, Level, Line, Points, Role, Span
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import ResponseKind
from wattwitness.model.rider import ZoneSet, ZonesRidden


def lines(chart: Chart, panel: int = 0) -> dict[str, Line]:
    return {mark.name: mark for mark in chart.panels[panel].marks if isinstance(mark, Line)}


def points(chart: Chart, panel: int = 0) -> dict[str, Points]:
    return {mark.name: mark for mark in chart.panels[panel].marks if isinstance(mark, Points)}


class TestPanels:
    def test_hold_the_series_as_they_are(self) -> None:
        made = pair()
        chart = panels.build(made)
        assert [panel.y_axis.label for panel in chart.panels] == [
            "power, W",
            "difference, %",
            "cadence, rpm",
            "heart rate, bpm",
        ]
        drawn = lines(chart)["Studio bike B"]
        np.testing.assert_array_equal(drawn.y, made.series.unit_w)
        assert drawn.role is Role.UNIT
        assert lines(chart, 1)["difference"].filled
        assert chart.time_axis

    def test_show_the_expected_line_only_where_it_differs(self) -> None:
        smooth, prompt = pair(), replace(pair(), response=response(ResponseKind.PROMPT))
        assert any("as the unit would show it" in name for name in lines(panels.build(smooth)))
        assert not any("as the unit would show it" in name for name in lines(panels.build(prompt)))

    def test_leave_out_a_channel_nobody_has(self) -> None:
        made = pair()
        empty = np.full(made.series.time_s.size, np.nan)
        bare = replace(made, series=replace(made.series, reference_bpm=empty, reference_rpm=empty, unit_rpm=empty))
        assert [panel.y_axis.quantity for panel in panels.build(bare).panels] == ["power", "difference"]

    def test_are_not_flattened_by_one_wild_second(self) -> None:
        chart = panels.build(COMPARISONS["huge_values"]().pairs[0])
        for panel in chart.panels[:2]:
            assert panel.y_range is not None
        low, high = chart.panels[1].y_range or (0, 0)
        assert low >= -panels.MOST_SHOWN_PCT
        assert high <= panels.MOST_SHOWN_PCT

    def test_name_two_meters_apart_that_share_a_name(self) -> None:
        assert set(lines(panels.build(pair("Bike", "Bike")))) >= {"Bike (reference)", "Bike (unit)"}


class TestBias:
    def test_intervals_stand_in_order_and_a_limit_around_zero(self) -> None:
        chart = bias_intervals.build(pair(), limit_pct=2.0)
        assert chart.sideways
        assert [words.split(":")[0] for _, words in chart.x_axis.ticks] == [
            "this ride",
            "with reference’s uncertainty",
            "bootstrap",
            "seconds as independent",
        ]
        limit = next(mark for mark in chart.panels[0].marks if isinstance(mark, Level))
        assert (limit.low, limit.y, limit.high) == (-2.0, 0.0, 2.0)

    def test_an_open_end_stays_open(self) -> None:
        chart = bias_intervals.build(COMPARISONS["huge_values"]().pairs[0])
        mark = next(mark for mark in chart.panels[0].marks if isinstance(mark, Points))
        assert mark.low[0] == 1.2
        assert np.isnan(mark.high[0])

    def test_a_glance_at_several_units_names_each(self) -> None:
        pairs = COMPARISONS["several_units"]().pairs
        chart = bias_intervals.build_glance(pairs, ["A", "B", "C"], limit_pct=2.0)
        assert len(chart.x_axis.ticks) == 6
        assert chart.x_axis.ticks[2][1].startswith("B: ")

    def test_blocks_stand_at_their_middle_with_both_halves(self) -> None:
        made = pair()
        chart = bias_by_block.build(made)
        mark = points(chart)["block, with interval"]
        np.testing.assert_allclose(mark.x, [300, 900, 1500, 2100, 2700, 3300])
        assert mark.y.tolist() == [block.bias_pct.value for block in made.blocks]
        halves = lines(chart)["half of the ride"]
        assert np.isnan(halves.y[2]), "the two halves are not joined"

    def test_cadence_bands_leave_out_what_was_not_assessed(self) -> None:
        made = pair()
        bands = (replace(made.cadence_bands[0], bias_pct=Estimate.missing("too_short", "%")), made.cadence_bands[1])
        mark = points(bias_by_cadence.build(replace(made, cadence_bands=bands)))["cadence band, with interval"]
        np.testing.assert_allclose(mark.x, [95])


class TestDifferenceByPower:
    def test_bands_stand_at_the_power_ridden(self) -> None:
        made = pair()
        mark = points(difference_by_power.build(made))["power band, with interval"]
        np.testing.assert_allclose(mark.x, [124, 174, 274])
        assert mark.low.tolist() == [band.bias_pct.low for band in made.power_bands if band.bias_pct.assessed]

    def test_the_cloud_holds_whole_half_minutes_only(self) -> None:
        made = pair()
        cloud = points(difference_by_power.build(made))["half a minute"]
        assert cloud.cloud
        expected = made.series.expected_w[:30].mean()
        assert cloud.x[0] == pytest.approx(expected)
        assert cloud.x.size < 3600 // 30, "half minutes with a gap are left out"

    def test_the_fitted_line_is_drawn_over_the_powers_it_was_fitted_on(self) -> None:
        assert not lines(difference_by_power.build(replace(pair(), power_line=None)))
        (line,) = lines(difference_by_power.build(pair())).values()
        assert (line.x[0], line.x[-1]) == (110.0, 300.0)
        # -5 % and +2 W: at 200 W that is 2 of 200 above -5 %.
        assert np.interp(200.0, line.x, line.y) == pytest.approx(-4.0, abs=0.01)

    def test_no_line_is_drawn_where_none_was_fitted(self) -> None:
        missing = Estimate.missing("no_line", "%")
        unfitted = PowerLine(gain_pct=missing, zero_w=missing, low_w=math.nan, high_w=math.nan)
        assert not lines(difference_by_power.build(replace(pair(), power_line=unfitted)))


def test_limits_stand_at_their_windows() -> None:
    chart = limits_of_agreement.build(pair())
    assert [plain(words) for _, words in chart.x_axis.ticks] == ["1 s", "10 s", "30 s", "1 min"]
    np.testing.assert_allclose(points(chart)["lower limit"].y, [-32.9, -21.9, -16.9, -14.9])


def test_best_means_compare_like_with_like() -> None:
    chart = best_means.build(pair())
    own = lines(chart, 1)["own best against own best"].y
    same = lines(chart, 1)["same window, response allowed for"].y
    np.testing.assert_allclose(own[:3], -6.0)
    np.testing.assert_allclose(same[:3], 100 * (0.93 / 0.975 - 1))
    assert np.isnan(own[-1]), "what a gap hides is not drawn"


class TestClockWindows:
    def test_follow_drift_and_jumps(self) -> None:
        made = replace(pair(), clock=clock(jumps=2))
        chart = clock_windows.build(made)
        line = lines(chart)["fitted clock"]
        assert np.isnan(line.y).sum() == 3
        # 40 ppm fast over 1800 s is 0.072 s; the first jump of 30 s lies before mid-ride, the second of 45 s after.
        assert line.y[0] == pytest.approx(-30 + 0.072)
        assert line.y[-2] == pytest.approx(45 - 0.072)
        spans = [mark for mark in chart.panels[0].marks if isinstance(mark, Span)]
        assert [(span.start, span.end) for span in spans] == [(1198, 1202), (2398, 2402)]
        assert points(chart)["offset found in a window"].x.size == 23

    def test_say_why_there_are_none(self) -> None:
        assert clock_windows.build(COMPARISONS["by_hand"]().pairs[0]).empty == "The offset was given by hand."


class TestBuilding:
    def test_only_assessed_estimates_become_points(self) -> None:
        mark = estimate_points("e", Role.UNIT, [1, 2], [Estimate.missing("too_short", "%"), percent(1.0)])
        assert mark.x.tolist() == [2.0]

    def test_a_shown_range_holds_zero_and_ignores_a_spike(self) -> None:
        values = np.concatenate([np.full(1000, 5.0), [1e9, np.nan]])
        low, high = shown_range(values, least=1.0)
        assert low <= 0
        assert 5 < high < 10

    def test_an_empty_chart_is_a_sentence(self) -> None:
        chart = without_data("n", "Title", Axis(quantity="power", unit="W"), "nothing was ridden")
        assert chart.empty == "Nothing was ridden."
        assert chart.alt == "Title: nothing to draw. Nothing was ridden."


def test_minutes_in_zones_add_up_and_nothing_is_drawn_of_nothing() -> None:
    ridden = ZonesRidden(
        zones=ZoneSet(name="two", upper=(0.8,), names=("easy", "hard"), source="a test"),
        threshold_w=250.0,
        threshold_from="stated",
        shown=((600, 60), (120, 300)),
        perfect=((640, 20), (30, 390)),
    )
    marks = [mark for panel in zones.build(ridden).panels for mark in panel.marks if isinstance(mark, Points)]
    assert [mark.y.tolist() for mark in marks] == [[11.0, 7.0], [670 / 60, 410 / 60], [12.0, 6.0]]
    assert zones.build(None).panels == ()
    assert zones.build(None).empty
