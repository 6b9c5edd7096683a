"""The ride along its time: power of both, their difference as a strip beneath, cadence, resistance and heart rate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wattwitness.charts.building import DIFFERENCE, ELAPSED, POWER, shown_range, without_data
from wattwitness.charts.episode_marks import LIST_TITLE, episode_places, episode_spans, episodes_seen, left_out_spans
from wattwitness.model.agreement import PairSeries
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Level, Line, Panel, Role
from wattwitness.model.comparison import PairComparison
from wattwitness.model.response import ResponseKind
from wattwitness.words.estimates import reads
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import long_duration

NAME = "panels"
TITLE = "Power and difference along the ride"
MOST_SHOWN_PCT = 60.0
RESISTANCE = Axis(quantity="resistance", unit="the bike’s own scale")


def build(pair: PairComparison) -> Chart:
    """Panels over one time axis; a channel that neither meter has gives no panel."""
    series, spans = pair.series, (*episode_spans(pair), *left_out_spans(pair))
    panels = [
        replace(panel, marks=(*spans, *panel.marks))
        for panel in (
            _power(pair, series),
            _difference(series),
            _channel(pair, Axis(quantity="cadence", unit="rpm"), series.reference_rpm, series.unit_rpm, series.time_s),
            _channel(pair, RESISTANCE, series.reference_resistance, series.unit_resistance, series.time_s),
            _channel(
                pair, Axis(quantity="heart rate", unit="bpm"), series.reference_bpm, series.unit_bpm, series.time_s
            ),
        )
        if panel is not None
    ]
    if not panels:
        usable = pair.clock.status.usable
        why = (
            "the recordings hold nothing that could be drawn" if usable else "without one clock there is no common axis"
        )
        return without_data(NAME, TITLE, ELAPSED, why)
    quantities, places = ", ".join(panel.y_axis.label for panel in panels), episode_places(pair)
    reference, unit = pair_names(pair)
    return Chart(
        name=NAME,
        title=TITLE,
        caption=_caption(panels, reference, unit),
        alt=(
            f"Curves along {long_duration(series.time_s.size)} of riding: {quantities}. Over the whole ride {unit} "
            f"{reads(pair.overall.bias_pct)}. {episodes_seen(pair)}"
        ).strip(),
        x_axis=ELAPSED,
        panels=tuple(panels),
        time_axis=True,
        places=places,
        places_title=LIST_TITLE if places else "",
    )


def _caption(panels: list[Panel], reference: str, unit: str) -> str:
    if not any(panel.y_axis == DIFFERENCE for panel in panels):
        return "Gaps in a line are seconds without a sample."
    return (
        f"The strip shows how far {unit} was above or below {reference}, mean of 30 s, after {reference} has been "
        "passed through the response of the display. Gaps are seconds without a sample."
    )


def _power(pair: PairComparison, series: PairSeries) -> Panel | None:
    reference, unit = pair_names(pair)
    lines = [_line(reference, Role.REFERENCE, series.time_s, series.reference_w)]
    if pair.response.unit.kind in (ResponseKind.MEAN, ResponseKind.EXPONENTIAL):
        lines.append(_line(f"{reference}, as the unit would show it", Role.EXPECTED, series.time_s, series.expected_w))
    lines.append(_line(unit, Role.UNIT, series.time_s, series.unit_w))
    drawn = tuple(line for line in lines if line is not None)
    if not drawn:
        return None
    _, high = shown_range(*(line.y for line in drawn), least=50.0, share=0.999)
    return Panel(y_axis=POWER, marks=drawn, y_range=(0.0, high), height_share=2.2)


def _difference(series: PairSeries) -> Panel | None:
    line = _line("difference", Role.DIFFERENCE, series.time_s, series.difference_pct, filled=True)
    if line is None:
        return None
    low, high = shown_range(line.y, least=10.0, share=0.98)
    zero = Level(name="no difference", role=Role.LIMIT, y=0.0, low=0.0, high=0.0)
    return Panel(
        y_axis=DIFFERENCE,
        marks=(line, zero),
        y_range=(max(low, -MOST_SHOWN_PCT), min(high, MOST_SHOWN_PCT)),
        height_share=1.2,
    )


def _channel(
    pair: PairComparison, axis: Axis, reference_values: FloatArray, unit_values: FloatArray, time_s: FloatArray
) -> Panel | None:
    reference, unit = pair_names(pair)
    lines = (
        _line(reference, Role.REFERENCE, time_s, reference_values),
        _line(unit, Role.UNIT, time_s, unit_values),
    )
    drawn = tuple(line for line in lines if line is not None)
    return Panel(y_axis=axis, marks=drawn) if drawn else None


def _line(name: str, role: Role, x: FloatArray, y: FloatArray, *, filled: bool = False) -> Line | None:
    """A line, or ``None`` where there is not one value to draw."""
    return Line(name=name, role=role, x=x, y=y, filled=filled) if bool(np.any(np.isfinite(y))) else None
