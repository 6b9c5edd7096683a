"""The bias along the ride at equal power, with the course fitted to it."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import BIAS, ELAPSED, shown_range, without_data, zero_level
from wattwitness.charts.episode_marks import episode_spans, episodes_seen
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Chart, Level, Line, Panel, Points, Role, Span
from wattwitness.model.comparison import PairComparison
from wattwitness.model.settling import Settling, TimeModel
from wattwitness.words.estimates import because
from wattwitness.words.names import pair_names

NAME = "bias_over_time"
TITLE = "Bias against time"
MINUTES_A_MEAN = 3


def build(pair: PairComparison) -> Chart:
    """Short blocks as faint points, means over minutes, the fitted course, and what it settles at."""
    settling = pair.settling
    if settling is None or not settling.at_s.size:
        slug = settling.start_bias_pct.not_assessed if settling is not None else pair.overall.bias_pct.not_assessed
        return without_data(NAME, TITLE, ELAPSED, because(slug) if slug else "the ride is too short")
    at, bias = settling.at_s, settling.bias_pct
    none = np.full(at.size, np.nan)
    cloud = Points(name="short block", role=Role.DIFFERENCE, x=at, y=bias, low=none, high=none, cloud=True)
    means = _means(at, bias)
    marks: list[Line | Points | Level | Span] = [*episode_spans(pair), zero_level(), cloud, means]
    if np.isfinite(settling.fitted_pct).any():
        marks.append(Line(name=_course(settling), role=Role.EXPECTED, x=at, y=_told(settling)))
    settled = settling.settled_bias_pct
    if settling.model in (TimeModel.SETTLING, TimeModel.STEP) and settled.value is not None:
        low, high = settled.low or settled.value, settled.high or settled.value
        marks.insert(marks.index(cloud), Level(name="settled", role=Role.INTERVAL, y=settled.value, low=low, high=high))
    held = "At equal power: " if settling.model is not TimeModel.CONFOUNDED else ""
    return Chart(
        name=NAME,
        title=TITLE,
        caption=f"{held}faint points are short blocks, the others means over {MINUTES_A_MEAN} minutes.".capitalize(),
        alt=f"{pair_names(pair)[1]} along the ride. {settling.why} {episodes_seen(pair)}".strip(),
        x_axis=ELAPSED,
        panels=(Panel(y_axis=BIAS, marks=tuple(marks), y_range=_range(bias, settling.fitted_pct, means.y)),),
        time_axis=True,
    )


def _told(settling: Settling) -> FloatArray:
    """The fitted course (n,); a constant bias stands where the report's numbers put it, that of the whole ride."""
    constant = settling.settled_bias_pct.value if settling.model is TimeModel.CONSTANT else None
    return settling.fitted_pct if constant is None else np.full(settling.at_s.size, constant)


def _range(bias_pct: FloatArray, *whole: FloatArray) -> tuple[float, float]:
    """Most of the short blocks, and all of the fitted course and of the means."""
    ranges = (shown_range(bias_pct, least=3.0, share=0.96), shown_range(*whole, least=3.0, share=1.0))
    return min(low for low, _ in ranges), max(high for _, high in ranges)


def _course(settling: Settling) -> str:
    return {
        TimeModel.CONSTANT: "constant",
        TimeModel.LINEAR: "fitted drift",
        TimeModel.SETTLING: "fitted settling",
        TimeModel.STEP: "fitted step",
    }.get(settling.model or TimeModel.CONSTANT, "fitted")


def _means(at_s: FloatArray, bias_pct: FloatArray) -> Points:
    """Means over whole minutes."""
    number = np.floor((at_s - at_s[0]) / (60 * MINUTES_A_MEAN)).astype(np.int64)
    _, place = np.unique(number, return_inverse=True)
    counts = np.bincount(place)
    none = np.full(counts.size, np.nan)
    return Points(
        name=f"mean of {MINUTES_A_MEAN} min",
        role=Role.UNIT,
        x=np.bincount(place, at_s) / counts,
        y=np.bincount(place, bias_pct) / counts,
        low=none,
        high=none,
    )
