"""One episode with the minutes around it: both powers, cadence, resistance, and heart rate beside what it should be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.charts.building import ELAPSED, POWER, shown_range, without_data
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role, Span
from wattwitness.model.comparison import PairComparison
from wattwitness.model.episodes import Episode, Finding
from wattwitness.model.response import ResponseKind
from wattwitness.words.episodes import FINDINGS, kind_words, where_words
from wattwitness.words.names import pair_names, sentence_start
from wattwitness.words.numbers import NBSP, clock_time, number

AROUND_S = 180.0
LEAST_W = 80.0
LEAST_OF_CHANNEL = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _View:
    """The stretch drawn: its edges, which of the ride's seconds lie in it, and the shading."""

    low_s: float
    high_s: float
    inside: BoolArray
    span: Span


def build(pair: PairComparison, episode: Episode, *, place: int) -> Chart:
    """The chart of the episode that stands at ``place`` (from 1) among those of its ride."""
    name, reference, unit = f"episode_{place}", *pair_names(pair)
    title = f"Episode {place}: {kind_words(episode.kind)} at {clock_time(episode.start_s)}"
    view = _view(pair, episode)
    panels = [
        panel
        for panel in (
            _power(pair, view),
            _channel(pair, view, "cadence", "rpm", pair.series.reference_rpm, pair.series.unit_rpm),
            _channel(
                pair,
                view,
                "resistance",
                "the bike’s own scale",
                pair.series.reference_resistance,
                pair.series.unit_resistance,
            ),
            _heart(pair, episode, view),
        )
        if panel is not None
    ]
    if not panels:
        return without_data(name, title, ELAPSED, "nothing was recorded around it")
    return Chart(
        name=name,
        title=title,
        caption=_caption(episode, unit, reference, heart=episode.heart is not None),
        alt=_alt(panels, episode, view, reference, unit),
        x_axis=ELAPSED,
        panels=tuple(panels),
        time_axis=True,
        x_range=(view.low_s, view.high_s),
    )


def _view(pair: PairComparison, episode: Episode) -> _View:
    time_s = pair.series.time_s
    low, high = episode.start_s - AROUND_S, episode.end_s + AROUND_S
    if time_s.size:
        low, high = max(low, float(time_s[0])), min(high, float(time_s[-1]))
    if not high > low:
        low, high = episode.start_s - 1.0, episode.end_s + 1.0
    # A spike of one second must still be seen on a stretch of six minutes.
    least = (high - low) / 300
    middle, half = (episode.start_s + episode.end_s) / 2, max(episode.duration_s, least) / 2
    span = Span(
        name=f"the {kind_words(episode.kind)}",
        role=Role.FAULT,
        start=max(middle - half, low),
        end=min(middle + half, high),
    )
    return _View(low_s=low, high_s=high, inside=(time_s >= low) & (time_s <= high), span=span)


def _power(pair: PairComparison, view: _View) -> Panel | None:
    series, (reference, unit) = pair.series, pair_names(pair)
    lines = [_line(reference, Role.REFERENCE, series.time_s, series.reference_w, view)]
    if pair.response.unit.kind in (ResponseKind.MEAN, ResponseKind.EXPONENTIAL):
        lines.append(
            _line(f"{reference}, as the unit would show it", Role.EXPECTED, series.time_s, series.expected_w, view)
        )
    lines.append(_line(unit, Role.UNIT, series.time_s, series.unit_w, view))
    drawn = [line for line in lines if line is not None]
    if not drawn:
        return None
    _, high = shown_range(*(line.y for line in drawn), least=LEAST_W, share=0.998)
    return Panel(y_axis=POWER, marks=(view.span, *drawn), y_range=(0.0, high), height_share=2.0)


def _channel(
    pair: PairComparison,
    view: _View,
    quantity: str,
    axis_unit: str,
    reference_values: FloatArray,
    unit_values: FloatArray,
) -> Panel | None:
    reference, unit = pair_names(pair)
    lines = (
        _line(reference, Role.REFERENCE, pair.series.time_s, reference_values, view),
        _line(unit, Role.UNIT, pair.series.time_s, unit_values, view),
    )
    drawn = [line for line in lines if line is not None]
    if not drawn:
        return None
    axis = Axis(quantity=quantity, unit=axis_unit)
    return Panel(y_axis=axis, marks=(view.span, *drawn), y_range=_around(drawn))


def _heart(pair: PairComparison, episode: Episode, view: _View) -> Panel | None:
    """Heart rate as measured, with what either account would have made it do where that was worked out."""
    reference, unit = pair_names(pair)
    axis = Axis(quantity="heart rate", unit="bpm")
    accounts = episode.heart
    if accounts is None:
        series = pair.series
        return _channel(pair, view, axis.quantity, axis.unit, series.reference_bpm, series.unit_bpm)
    inside = (accounts.time_s >= view.low_s) & (accounts.time_s <= view.high_s)
    lines = [
        Line(name=name, role=role, x=accounts.time_s[inside], y=values[inside])
        for name, role, values in (
            ("measured", Role.OTHER, accounts.measured_bpm),
            (f"if {reference} is right", Role.REFERENCE, accounts.if_reference_right_bpm),
            (f"if {unit} is right", Role.UNIT, accounts.if_unit_right_bpm),
        )
        if bool(np.any(np.isfinite(values[inside])))
    ]
    return Panel(y_axis=axis, marks=(view.span, *lines), y_range=_around(lines), height_share=1.3) if lines else None


def _around(lines: list[Line]) -> tuple[float, float]:
    """A range around all lines, never so narrow that noise fills it."""
    values = np.concatenate([line.y[np.isfinite(line.y)] for line in lines])
    low, high = float(values.min()), float(values.max())
    middle, half = (low + high) / 2, max(high - low, LEAST_OF_CHANNEL) / 2 * 1.25
    return max(middle - half, 0.0) if low >= 0 else middle - half, middle + half


def _line(name: str, role: Role, x: FloatArray, y: FloatArray, view: _View) -> Line | None:
    """The part of a line that lies in view, or ``None`` where it holds no value."""
    seen = y[view.inside]
    return Line(name=name, role=role, x=x[view.inside], y=seen) if bool(np.any(np.isfinite(seen))) else None


def _caption(episode: Episode, unit: str, reference: str, *, heart: bool) -> str:
    finding = FINDINGS[episode.finding].replace("the unit", unit).replace("the reference", reference)
    put_down = (
        "Which of the two meters is at fault cannot be told"
        if episode.finding is Finding.UNDETERMINED
        else f"Put down to {finding}"
    )
    predictions = (
        f" Heart rate is drawn beside what it would have done had {reference}, or {unit}, been right." if heart else ""
    )
    return f"Shaded: {where_words(episode)} of the ride. {put_down}. Gaps are seconds without a sample.{predictions}"


def _alt(panels: list[Panel], episode: Episode, view: _View, reference: str, unit: str) -> str:
    quantities = ", ".join(panel.y_axis.label for panel in panels)
    depth = episode.depth_pct.value
    size = "" if depth is None else f", {number(depth, 0, signed=True)}{NBSP}%"
    return sentence_start(
        f"{unit} against {reference} from {clock_time(view.low_s)} to {clock_time(view.high_s)} of the ride: "
        f"{quantities}. A {kind_words(episode.kind)} {where_words(episode)}{size} is shaded."
    )
