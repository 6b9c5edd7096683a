"""Limits of agreement by window: within which 95 % of the differences fall."""

from __future__ import annotations

from wattwitness.charts.building import estimate_points, without_data, zero_level
from wattwitness.model.chart import Axis, Chart, Panel, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, value_cell
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import short_duration

NAME = "limits_of_agreement"
TITLE = "How far single readings stray"
DIFFERENCE_W = Axis(quantity="unit minus reference", unit="W")


def build(pair: PairComparison) -> Chart:
    """Mean difference, lower and upper limit with their intervals, for each window."""
    limits = pair.limits_of_agreement
    places = [float(place) for place in range(len(limits))]
    axis = Axis(
        quantity="mean of",
        unit="s",
        ticks=tuple((place, short_duration(item.window_s)) for place, item in zip(places, limits, strict=True)),
    )
    if not any(item.low_w.assessed for item in limits):
        slug = pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, axis, because(slug) if slug else "the ride is too short for limits")
    words = "; ".join(
        f"{short_duration(item.window_s)}: {value_cell(item.low_w, 0)} to {value_cell(item.high_w, 0)} W"
        for item in limits
        if item.low_w.assessed
    )
    marks = (
        zero_level(),
        estimate_points("lower limit", Role.LIMIT, places, [item.low_w for item in limits]),
        estimate_points("mean difference", Role.UNIT, places, [item.mean_w for item in limits]),
        estimate_points("upper limit", Role.LIMIT, places, [item.high_w for item in limits]),
    )
    return Chart(
        name=NAME,
        title=TITLE,
        caption="Nineteen of twenty differences lie between the two limits; bars are the limits’ own intervals.",
        alt=f"Limits of agreement of {pair_names(pair)[1]} by averaging window. {words}.",
        x_axis=axis,
        panels=(Panel(y_axis=DIFFERENCE_W, marks=marks),),
    )
