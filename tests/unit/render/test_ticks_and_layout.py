"""Where axes are marked, and how data become places on paper."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wattwitness.model.chart import Axis, Chart, Level, Line, Panel, Points, Role, Scale
from wattwitness.render.layout import Map, thinned, x_range, y_range
from wattwitness.render.ticks import ticks

WATTS = Axis(quantity="power", unit="W")


def test_ticks_are_round_numbers_with_enough_decimals() -> None:
    assert ticks(WATTS, 0, 310, 6) == [(0.0, "0"), (100.0, "100"), (200.0, "200"), (300.0, "300")]
    assert [words for _, words in ticks(WATTS, -0.12, 0.16, 6)] == ["−0.10", "−0.05", "0.00", "+0.05", "+0.10", "+0.15"]


def test_a_margin_below_zero_does_not_sign_what_cannot_be_negative() -> None:
    assert [words for _, words in ticks(WATTS, -6, 106, 4)] == ["0", "50", "100"]


def test_ticks_of_time_are_hours_minutes_seconds() -> None:
    found = ticks(Axis(quantity="time", unit="h:mm:ss"), 0, 3600, 7, time_axis=True)
    assert found[1] == (600.0, "0:10:00")
    assert found[-1] == (3600.0, "1:00:00")


def test_named_ticks_are_kept_where_they_are_seen() -> None:
    axis = Axis(quantity="duration", unit="s", ticks=((1.0, "1 s"), (60.0, "1 min"), (3600.0, "60 min")))
    assert ticks(axis, 0.5, 100, 5) == [(1.0, "1 s"), (60.0, "1 min")]


@given(st.floats(-1e7, 1e7), st.floats(1e-3, 1e7), st.integers(2, 10))
def test_ticks_are_few_and_inside(low: float, span: float, most: int) -> None:
    found = ticks(WATTS, low, low + span, most)
    assert len(found) <= most + 1
    assert all(low - span * 1e-6 <= value <= low + span * (1 + 1e-6) for value, _ in found)


def test_a_span_of_nothing_does_not_loop() -> None:
    assert len(ticks(WATTS, 5.0, 5.0, 5)) <= 1


def test_maps_straight_and_logarithmic() -> None:
    assert Map(low=0, high=10, start=100, end=0)(2.5) == 75
    log = Map(low=1, high=100, start=0, end=2, logarithmic=True)
    assert log(10) == pytest.approx(1.0)
    assert math.isnan(log(0.0))


def line(x: list[float], y: list[float], *, filled: bool = False) -> Line:
    return Line(name="l", role=Role.UNIT, x=np.array(x), y=np.array(y), filled=filled)


def test_ranges_come_from_what_is_drawn() -> None:
    panel = Panel(y_axis=WATTS, marks=(line([0, 10], [100, 200]),))
    low, high = y_range(panel)
    assert low < 100
    assert high > 200
    assert y_range(Panel(y_axis=WATTS, marks=(), y_range=(1.0, 2.0))) == (1.0, 2.0)
    assert y_range(Panel(y_axis=WATTS, marks=(line([0], [math.nan]),))) == (0.0, 1.0)
    assert y_range(Panel(y_axis=WATTS, marks=(line([0, 1], [5, 6], filled=True),)))[0] < 0
    level = Level(name="z", role=Role.LIMIT, y=0, low=-2, high=2)
    assert y_range(Panel(y_axis=WATTS, marks=(level,)))[0] < -2


def chart(axis: Axis, mark: Line | Points, *, time_axis: bool = False) -> Chart:
    return Chart(
        name="c",
        title="",
        caption="",
        alt="",
        x_axis=axis,
        panels=(Panel(y_axis=WATTS, marks=(mark,)),),
        time_axis=time_axis,
    )


def test_the_x_range_suits_its_axis() -> None:
    assert x_range(chart(WATTS, line([5, 10], [1, 1]), time_axis=True)) == (0.0, 10.0)
    low, high = x_range(chart(Axis(quantity="d", unit="s", scale=Scale.LOGARITHMIC), line([1, 3600], [1, 1])))
    assert 0 < low < 1
    assert high > 3600
    named = Axis(quantity="case", unit="", ticks=((0.0, "a"), (1.0, "b")))
    assert x_range(chart(named, line([0, 1], [1, 1]))) == (-0.5, 1.5)
    one = Axis(quantity="case", unit="", ticks=((0.0, "a"),))
    assert x_range(chart(one, line([0], [1]))) == (-0.5, 0.5)


def test_thinning_keeps_spikes_and_gaps() -> None:
    x = np.arange(10_000.0)
    y = np.sin(x / 300)
    y[4321] = 50.0
    y[7000:7100] = np.nan
    thin_x, thin_y = thinned(x, y, 200)
    assert thin_x.size <= 2 * 200 + 2
    assert np.nanmax(thin_y) == 50.0
    assert np.all(np.diff(thin_x) > 0)
    assert np.isnan(thin_y).any()
    assert thinned(x[:100], y[:100], 200)[0].size == 100
