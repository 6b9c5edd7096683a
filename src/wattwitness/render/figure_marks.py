"""Marks of a chart drawn with matplotlib; each role has a colour, a stroke and a form of its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from wattwitness.model.chart import Level, Line, Points, Role, Shading, Span
from wattwitness.render.inks import Inks
from wattwitness.render.layout import thinned

if TYPE_CHECKING:
    from matplotlib.axes import Axes

DASHES: dict[Role, Any] = {
    Role.EXPECTED: (0, (4, 2)),
    Role.OTHER: (0, (6, 2, 1.5, 2)),
    Role.LIMIT: (0, (1.5, 2)),
    Role.INTERVAL: (0, (7, 3)),
}
FORMS = {Role.UNIT: "o", Role.EXPECTED: "D", Role.OTHER: "s", Role.FAULT: "^"}
HATCHES = {Shading.PLAIN: None, Shading.RISING: "////", Shading.FALLING: "\\\\\\\\", Shading.DOTTED: "...."}
COLUMNS = 1600
MANY_POINTS = 1000


def draw_mark(axes: Axes, mark: Line | Points | Level | Span, line_pt: float, inks: Inks) -> None:
    """Draw one mark with lines of ``line_pt`` points."""
    from matplotlib.colors import to_rgba

    colour, dash = inks.roles[mark.role], DASHES.get(mark.role, "-")
    if isinstance(mark, Line):
        _line(axes, mark, line_pt, inks)
    elif isinstance(mark, Points) and mark.cloud:
        size = (line_pt * 1.7) ** 2
        axes.scatter(mark.x, mark.y, s=size, color=colour, alpha=0.4, linewidths=0, label=mark.name)
    elif isinstance(mark, Points):
        draw_bars(axes, mark, line_pt, inks, along_x=False)
    elif isinstance(mark, Level):
        axes.axhline(mark.y, color=colour, linestyle=dash, linewidth=line_pt * 0.8, label=mark.name)
        if mark.high > mark.low:
            axes.axhspan(mark.low, mark.high, color=colour, alpha=0.14, linewidth=0)
    else:
        # An edge keeps a spike of one second in sight; the hatching tells the kind without colour.
        axes.axvspan(
            mark.start,
            mark.end,
            facecolor=to_rgba(colour, 0.16),
            edgecolor=to_rgba(colour, 0.75),
            hatch=HATCHES[mark.shading],
            linewidth=line_pt * 0.5,
            label=mark.name,
            zorder=0.5,
        )


def draw_bars(axes: Axes, mark: Points, line_pt: float, inks: Inks, *, along_x: bool) -> None:
    """Points with intervals; an open end runs to the edge of the panel, without a cap."""
    colour, edges = inks.roles[mark.role], axes.get_xlim() if along_x else axes.get_ylim()
    bars = axes.hlines if along_x else axes.vlines
    has_bar = np.isfinite(mark.low) | np.isfinite(mark.high)
    low = np.where(np.isfinite(mark.low), mark.low, min(edges))
    high = np.where(np.isfinite(mark.high), mark.high, max(edges))
    bars(mark.x[has_bar], low[has_bar], high[has_bar], color=colour, linewidth=line_pt * 1.1)
    for ends in (mark.low, mark.high):
        capped = np.isfinite(ends)
        at = (ends[capped], mark.x[capped]) if along_x else (mark.x[capped], ends[capped])
        axes.plot(*at, "|" if along_x else "_", color=colour, markersize=line_pt * 5, markeredgewidth=line_pt)
    at = (mark.y, mark.x) if along_x else (mark.x, mark.y)
    form = FORMS.get(mark.role, "_")
    # On its side a chart names each case at its axis, so that only levels need a legend.
    axes.plot(
        *at,
        form,
        color=colour,
        markersize=line_pt * (6 if form == "_" else 4),
        markeredgecolor=colour if form == "_" else inks.rim,
        markeredgewidth=line_pt * (0.9 if form == "_" else 0.4),
        label="_" if along_x else mark.name,
        zorder=3,
    )


def _line(axes: Axes, mark: Line, line_pt: float, inks: Inks) -> None:
    """A line, its extremes kept where it has more points than the paper has room for; many points, thin line."""
    x, y = thinned(mark.x, mark.y, COLUMNS)
    width = line_pt * (0.55 if mark.filled or x.size > MANY_POINTS else 1.0)
    colour = inks.roles[mark.role]
    axes.plot(x, y, color=colour, linestyle=DASHES.get(mark.role, "-"), linewidth=width, label=mark.name)
    if mark.filled:
        axes.fill_between(x, 0, y, color=colour, alpha=0.22, linewidth=0)
