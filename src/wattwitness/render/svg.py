"""Charts as inline SVG, coloured by the page's style sheet alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wattwitness.model.chart import Chart, Level, Panel, Points, Role, Scale, Shading
from wattwitness.render.layout import Map, x_range, y_range
from wattwitness.render.svg_elements import at, circle, path, rect, window, words
from wattwitness.render.svg_marks import draw_bar_across, draw_form, draw_level_across, draw_mark, draw_stretch
from wattwitness.render.ticks import Tick, ticks

LEAST_SHARE = 0.45


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """The size of a drawing in its own units, of its letters, and how many of each tick it has room for."""

    width: float
    panel_height: float
    letter: float
    x_ticks: int
    y_ticks: int
    columns: int
    css_class: str


WIDE = Paper(width=820, panel_height=230, letter=13, x_ticks=9, y_ticks=6, columns=760, css_class="wide")
NARROW = Paper(width=360, panel_height=210, letter=12, x_ticks=4, y_ticks=5, columns=320, css_class="narrow")
PRINTED = Paper(width=820, panel_height=135, letter=13, x_ticks=9, y_ticks=5, columns=760, css_class="wide")
STILL = Paper(width=820, panel_height=88, letter=13, x_ticks=9, y_ticks=4, columns=760, css_class="wide")
PAPERS = (WIDE, NARROW)


def chart_svg(chart: Chart, paper: Paper) -> str:
    """One drawing of ``chart``; its words for who cannot see it stand beside it, so the drawing itself is hidden."""
    height, body = _sideways(chart, paper) if chart.sideways else _upright(chart, paper)
    return (
        f'<svg class="chart {paper.css_class}" viewBox="0 0 {at(paper.width)} {at(height)}" '
        f'aria-hidden="true" focusable="false">{body}</svg>'
    )


def swatch(role: Role, *, points: bool = False, cloud: bool = False, filled: bool = False, band: bool = False) -> str:
    """A small sample of a mark for a legend."""
    if filled:
        inside = rect(f"fill {role}", 1, 2, 24, 8) + path(f"line {role}", "M1 2H25")
    elif cloud:
        inside = "".join(circle(f"cloud {role}", x, y, 2.2) for x, y in ((6, 8), (13, 4), (20, 7)))
    elif points:
        inside = path(f"bar {role}", "M13 0V12") + draw_form(role, 13, 6, 3.6)
    else:
        inside = (rect(f"band {role}", 1, 1, 24, 10) if band else "") + path(f"line {role}", "M1 6H25")
    return f'<svg class="swatch" viewBox="0 0 26 12" aria-hidden="true" focusable="false">{inside}</svg>'


def stretch_swatch(role: Role, shading: Shading) -> str:
    """A small sample of a shaded stretch for a legend or a list."""
    inside = draw_stretch(role, shading, 1, 0, 24, 12)
    return f'<svg class="swatch" viewBox="0 0 26 12" aria-hidden="true" focusable="false">{inside}</svg>'


def _upright(chart: Chart, paper: Paper) -> tuple[float, str]:
    """Panels under one another over a shared x axis: height and elements."""
    top = paper.letter * 1.9
    low, high = x_range(chart)
    across = Map(
        low=low,
        high=high,
        start=_gutter(chart, paper),
        end=paper.width - paper.letter * 0.9,
        logarithmic=chart.x_axis.scale is Scale.LOGARITHMIC,
    )
    parts: list[str] = []
    y = 0.0
    for panel in chart.panels:
        height = paper.panel_height * max(panel.height_share, LEAST_SHARE)
        floor, ceiling = y_range(panel)
        along = Map(low=floor, high=ceiling, start=y + top + height, end=y + top)
        parts.append(words("axis", 0, y + paper.letter, panel.y_axis.label))
        parts.append(_grid(chart, panel, across, along, paper))
        marks = "".join(draw_mark(mark, across, along, paper.columns, paper.letter) for mark in panel.marks)
        parts.append(window(across.start, along.end, across.end - across.start, height, marks))
        y += top + height + paper.letter * 0.6
    y += paper.letter * 1.1
    parts.append(_x_words(chart, across, y, paper))
    y += paper.letter * 1.7
    parts.append(words("axis end", across.end, y, chart.x_axis.label))
    return y + paper.letter * 0.5, "".join(parts)


def _y_ticks(panel: Panel, paper: Paper) -> list[Tick]:
    share = min(max(panel.height_share, LEAST_SHARE), 1.4)
    return ticks(panel.y_axis, *y_range(panel), max(3, round(paper.y_ticks * share)))


def _gutter(chart: Chart, paper: Paper) -> float:
    """Room for the longest words at the y axes."""
    longest = max((len(said) for panel in chart.panels for _, said in _y_ticks(panel, paper)), default=1)
    return longest * paper.letter * 0.6 + paper.letter * 0.8


def _grid(chart: Chart, panel: Panel, across: Map, along: Map, paper: Paper) -> str:
    found = []
    for value, said in _y_ticks(panel, paper):
        y = along(value)
        found.append(path("grid", f"M{at(across.start)} {at(y)}H{at(across.end)}"))
        found.append(words("tick end", across.start - paper.letter * 0.45, y + paper.letter * 0.35, said))
    for value, _ in _x_ticks(chart, across, paper):
        found.append(path("grid", f"M{at(across(value))} {at(along.end)}V{at(along.start)}"))
    return "".join(found)


def _x_ticks(chart: Chart, across: Map, paper: Paper) -> list[Tick]:
    """Ticks of the x axis; of named ones as many as do not run into one another."""
    found = ticks(chart.x_axis, across.low, across.high, paper.x_ticks, time_axis=chart.time_axis)
    if not chart.x_axis.ticks:
        return found
    longest = max((len(said) for _, said in found), default=0) * paper.letter * 0.62 + paper.letter * 0.6
    every = max(1, math.ceil(len(found) * longest / (across.end - across.start)))
    return found[::every]


def _x_words(chart: Chart, across: Map, y: float, paper: Paper) -> str:
    found = []
    for value, said in _x_ticks(chart, across, paper):
        x, half = across(value), len(said) * paper.letter * 0.3
        if x + half > paper.width:
            found.append(words("tick end", paper.width, y, said))
        else:
            found.append(words("tick middle", x, y, said))
    return "".join(found)


def _sideways(chart: Chart, paper: Paper) -> tuple[float, str]:
    """Named cases under one another, their values along: height and elements. One panel only."""
    panel = chart.panels[0]
    top = paper.letter * 0.4
    height = paper.letter * 3.3 * max(len(chart.x_axis.ticks), 1)
    floor, ceiling = y_range(panel)
    along = Map(low=floor, high=ceiling, start=paper.letter * 0.8, end=paper.width - paper.letter * 0.8)
    low, high = x_range(chart)
    down = Map(low=low, high=high, start=top, end=top + height)
    parts = []
    for value, said in ticks(panel.y_axis, floor, ceiling, paper.x_ticks):
        parts.append(path("grid", f"M{at(along(value))} {at(top)}v{at(height)}"))
        parts.append(words("tick middle", along(value), top + height + paper.letter * 1.3, said))
    for mark in panel.marks:
        if isinstance(mark, Level):
            parts.append(draw_level_across(mark, along, top, height))
        elif isinstance(mark, Points):
            parts.append(draw_bar_across(mark, down, along, paper.letter))
    for value, said in chart.x_axis.ticks:
        parts.append(words("case", along.start, down(value) - paper.letter * 0.75, said))
    y = top + height + paper.letter * 2.9
    parts.append(words("axis end", along.end, y, panel.y_axis.label))
    return y + paper.letter * 0.5, "".join(parts)
