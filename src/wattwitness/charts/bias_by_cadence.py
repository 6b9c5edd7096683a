"""Bias by cadence band."""

from __future__ import annotations

from wattwitness.charts.building import BIAS, estimate_level, estimate_points, without_data, zero_level
from wattwitness.model.chart import Axis, Chart, Panel, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, reads_briefly
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import number

NAME = "bias_by_cadence"
TITLE = "Bias by cadence"


def build(pair: PairComparison) -> Chart:
    """One point for each cadence band, at the middle of the band."""
    middles = [(band.low_rpm + band.high_rpm) / 2 for band in pair.cadence_bands]
    axis = Axis(
        quantity="cadence, mean of 30 s",
        unit="rpm",
        ticks=tuple(
            (middle, f"{number(band.low_rpm, 0)}–{number(band.high_rpm, 0)}")
            for middle, band in zip(middles, pair.cadence_bands, strict=True)
        ),
    )
    points = estimate_points(
        "cadence band, with interval", Role.UNIT, middles, [band.bias_pct for band in pair.cadence_bands]
    )
    if not points.x.size:
        slug = next((item.slug for item in pair.not_assessed if item.what == "cadence_bands"), "")
        return without_data(NAME, TITLE, axis, because(slug) if slug else "no cadence band held enough riding")
    level = estimate_level("whole ride", Role.INTERVAL, pair.overall.bias_pct)
    words = "; ".join(
        f"{number(band.low_rpm, 0)} to {number(band.high_rpm, 0)} rpm: {reads_briefly(band.bias_pct)}"
        for band in pair.cadence_bands
    )
    return Chart(
        name=NAME,
        title=TITLE,
        caption="Points are cadence bands with their intervals; the shaded line is the whole ride.",
        alt=f"{pair_names(pair)[1]} by cadence. {words}.",
        x_axis=axis,
        panels=(Panel(y_axis=BIAS, marks=tuple(mark for mark in (zero_level(), level, points) if mark is not None)),),
    )
