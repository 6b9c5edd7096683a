"""The figure of one episode as files: SVG, and PNG at a size that reads on a page and on a screen."""

from __future__ import annotations

from wattwitness.model.chart import Chart
from wattwitness.render.figure_drawing import Sheet
from wattwitness.render.figures import Edition, chart_files

EPISODE = Edition(suffix="", sheet=Sheet(width_in=10.0, height_in=8.6, letter_pt=11, line_pt=1.5), pngs=(("", 150.0),))


def episode_files(chart: Chart, about: str) -> dict[str, bytes]:
    """Content by ending: ``.svg`` and ``.png``; empty for a chart that has nothing to draw."""
    return chart_files(chart, EPISODE, about) if chart.panels else {}
