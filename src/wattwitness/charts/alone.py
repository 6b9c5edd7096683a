"""One recording along its time: power beside what was foretold, cadence, resistance, heart rate, episodes shaded."""

from __future__ import annotations

import numpy as np

from wattwitness.charts.building import ELAPSED, POWER, shown_range, without_data
from wattwitness.model.alone import AloneReport
from wattwitness.model.arrays import FloatArray
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role, Span
from wattwitness.model.episodes import EpisodeKind, Finding
from wattwitness.words.alone import NOT_OF_THE_RIDER, at_words
from wattwitness.words.names import recording_name
from wattwitness.words.numbers import long_duration

NAME = "alone"
TITLE = "Power and what foretells it, along the ride"
LEAST_SHARE = 1 / 400
"""A spike of one second must still be seen on an hour."""


def build(report: AloneReport) -> Chart:
    """Panels over one time axis; a channel that was not recorded gives no panel."""
    series = report.series
    spans = _spans(report)
    panels = [
        panel
        for panel in (
            _power(report, spans),
            _channel("cadence", "rpm", series.time_s, series.cadence_rpm, spans),
            _channel("resistance", "the bike’s own scale", series.time_s, series.resistance, spans),
            _heart(report, spans),
        )
        if panel is not None
    ]
    if not panels:
        return without_data(NAME, TITLE, ELAPSED, "the recording holds nothing that could be drawn")
    named = ", ".join(panel.y_axis.label for panel in panels)
    shaded = [episode for episode in report.episodes if episode.finding is not Finding.RIDER]
    return Chart(
        name=NAME,
        title=TITLE,
        caption=(
            "Shaded: stretches in which the number leaves its own behaviour. Gaps in a line are seconds without a "
            "sample, or at which nothing foretells the power."
        ),
        alt=(
            f"Curves along {long_duration(float(series.time_s.size))} of riding: {named}. "
            + ("Shaded: " + "; ".join(at_words(one) for one in shaded) + "." if shaded else "Nothing is shaded.")
        ),
        x_axis=ELAPSED,
        panels=tuple(panels),
        time_axis=True,
    )


def _spans(report: AloneReport) -> tuple[Span, ...]:
    least = report.series.time_s.size * LEAST_SHARE
    found = []
    for episode in report.episodes:
        if episode.kind is EpisodeKind.STEP:
            continue
        middle, half = (episode.start_s + episode.end_s) / 2, max(episode.duration_s, least) / 2
        rider = episode.finding is Finding.RIDER
        found.append(
            Span(
                name="the rider’s own change" if rider else NOT_OF_THE_RIDER,
                role=Role.INTERVAL if rider else Role.FAULT,
                start=max(middle - half, 0.0),
                end=middle + half,
            )
        )
    return tuple(found)


def _power(report: AloneReport, spans: tuple[Span, ...]) -> Panel | None:
    series = report.series
    lines = [
        line
        for line in (
            _line("foretold by the rest of the ride", Role.EXPECTED, series.time_s, series.foretold_w),
            _line(recording_name(report.recording), Role.UNIT, series.time_s, series.power_w),
        )
        if line is not None
    ]
    if not lines:
        return None
    _, high = shown_range(*(line.y for line in lines), least=50.0, share=0.999)
    return Panel(y_axis=POWER, marks=(*spans, *lines), y_range=(0.0, high), height_share=2.2)


def _channel(quantity: str, unit: str, time_s: FloatArray, values: FloatArray, spans: tuple[Span, ...]) -> Panel | None:
    line = _line(quantity, Role.OTHER, time_s, values)
    return None if line is None else Panel(y_axis=Axis(quantity=quantity, unit=unit), marks=(*spans, line))


def _heart(report: AloneReport, spans: tuple[Span, ...]) -> Panel | None:
    series = report.series
    lines = [
        line
        for line in (
            _line("as the shown power would have it", Role.LIMIT, series.time_s, series.heart_by_number_bpm),
            _line("as the foretold power would have it", Role.EXPECTED, series.time_s, series.heart_by_rest_bpm),
            _line("heart rate", Role.OTHER, series.time_s, series.heart_bpm),
        )
        if line is not None
    ]
    if not bool(np.any(np.isfinite(series.heart_bpm))):
        return None
    return Panel(y_axis=Axis(quantity="heart rate", unit="bpm"), marks=(*spans, *lines))


def _line(name: str, role: Role, x: FloatArray, y: FloatArray) -> Line | None:
    return Line(name=name, role=role, x=x, y=y) if bool(np.any(np.isfinite(y))) else None
