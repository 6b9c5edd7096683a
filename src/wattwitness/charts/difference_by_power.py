"""The difference against power: every half minute as a faint point, each power band with its interval, the line."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import BIAS, estimate_level, estimate_points, shown_range, without_data, zero_level
from wattwitness.model.chart import Axis, Chart, Line, Panel, Points, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.words.estimates import because, reads_briefly
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import number

NAME = "difference_by_power"
TITLE = "Difference against power"
X_AXIS = Axis(quantity="reference power, mean of 30 s", unit="W")
WINDOW_S = 30
CURVE_POINTS = 60


def build(pair: PairComparison) -> Chart:
    """Cloud, bands, overall bias and fitted line over power."""
    cloud = _cloud(pair)
    bands = estimate_points(
        "power band, with interval",
        Role.UNIT,
        [band.reference_w for band in pair.power_bands],
        [band.bias_pct for band in pair.power_bands],
    )
    if not cloud.x.size and not bands.x.size:
        slug = pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, X_AXIS, because(slug) if slug else "no half minute holds power from both")
    level = estimate_level("whole ride", Role.INTERVAL, pair.overall.bias_pct)
    line = _fitted_line(pair)
    marks = tuple(mark for mark in (zero_level(), level, cloud, line, bands) if mark is not None)
    _, unit = pair_names(pair)
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            "Each faint point is half a minute; the others are power bands with their intervals. "
            + ("The dashed line is the gain and zero that fit them, both meters taken to err." if line else "")
        ).strip(),
        alt=f"{unit} against reference power. {_bands_in_words(pair)}",
        x_axis=X_AXIS,
        panels=(Panel(y_axis=BIAS, marks=marks, y_range=_range(cloud, bands)),),
    )


def _cloud(pair: PairComparison) -> Points:
    """One point for each half minute that is complete: thinned for drawing, since neighbours share their seconds."""
    series = pair.series
    whole = series.time_s.size // WINDOW_S * WINDOW_S
    power = series.expected_w[:whole].reshape(-1, WINDOW_S).mean(axis=1)
    difference = series.difference_pct[WINDOW_S // 2 : whole : WINDOW_S]
    drawn = np.isfinite(power) & np.isfinite(difference)
    none = np.full(int(drawn.sum()), np.nan)
    return Points(
        name="half a minute", role=Role.DIFFERENCE, x=power[drawn], y=difference[drawn], low=none, high=none, cloud=True
    )


def _fitted_line(pair: PairComparison) -> Line | None:
    """The line through unit over reference as a difference, over the powers it was fitted on and no further.

    A zero error of so many watts weighs more the lower the power, which is why the line is a curve here.
    """
    line = pair.power_line
    if line is None or line.gain_pct.value is None or line.zero_w.value is None:
        return None
    x = np.linspace(max(line.low_w, 1.0), line.high_w, CURVE_POINTS)
    return Line(
        name="fitted gain and zero", role=Role.EXPECTED, x=x, y=line.gain_pct.value + 100 * line.zero_w.value / x
    )


def _range(cloud: Points, bands: Points) -> tuple[float, float]:
    low, high = shown_range(cloud.y, least=4.0, share=0.96)
    for ends in (bands.low, bands.high, bands.y):
        finite = ends[np.isfinite(ends)]
        if finite.size:
            low, high = min(low, float(finite.min()) - 0.3), max(high, float(finite.max()) + 0.3)
    return low, high


def _bands_in_words(pair: PairComparison) -> str:
    words = [
        f"{number(band.low_w, 0)} to {number(band.high_w, 0)} W: {reads_briefly(band.bias_pct)}"
        for band in pair.power_bands
    ]
    return "; ".join(words) + "." if words else "No power band held enough riding."
