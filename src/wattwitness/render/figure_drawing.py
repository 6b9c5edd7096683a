"""A chart drawn with matplotlib, from the same description that the page draws."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from dataclasses import replace as with_changes
from typing import TYPE_CHECKING

import numpy as np

from wattwitness.model.chart import Chart, Level, Panel, Points, Role, Scale
from wattwitness.render.case_labels import Cases, placed
from wattwitness.render.figure_marks import DASHES, draw_bars, draw_mark
from wattwitness.render.inks import INKS, Ground, Inks
from wattwitness.render.layout import x_range, y_range
from wattwitness.render.ticks import Tick, ticks

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LETTER_WIDTH = 0.52  # of a letter's height, on average, in the font that comes with the library
WIDE_LETTER = 0.58  # the same of text with many capitals and signs
LEAST_SHARE = 0.8
LABELS_SHARE = 0.52
"""Of the width that named cases may take."""

SIDEWAYS_CHROME = 10.5
"""Heights of a label that title, legend, axis and what stands beneath take of a chart on its side."""

MANY_CASES = 12
LABEL = 0.9
"""Of a letter's height: what stands at the ticks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The paper: its size in inches (height None: as the chart needs), its letters and lines in points.

    Where the chart decides, a panel is ``panel_share`` of the width high, and the whole at most ``tallest_in``.
    ``titled``: with the chart's title above it and what it is of beneath; without, where a caption says both.
    """

    width_in: float
    height_in: float | None
    letter_pt: float
    line_pt: float
    titled: bool = True
    panel_share: float = 0.42
    tallest_in: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """What everything on one figure is drawn with."""

    sheet: Sheet
    inks: Inks


def draw(chart: Chart, sheet: Sheet, *, about: str, ground: Ground = Ground.WHITE) -> Figure:
    """Draw a chart that has panels; ``about`` stands beneath it. The library's settings must be in force."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    pen = Pen(sheet=sheet, inks=INKS[ground])
    height_in = sheet.height_in or _height(chart, sheet)
    figure = Figure(figsize=(sheet.width_in, height_in), facecolor=pen.inks.paper)
    FigureCanvasAgg(figure)
    pad = sheet.letter_pt / 250
    figure.set_layout_engine("constrained", h_pad=pad, w_pad=pad * 3, hspace=0.0)
    shares = [max(panel.height_share, LEAST_SHARE) for panel in chart.panels]
    grid = figure.subplots(len(shares), 1, sharex=True, squeeze=False, gridspec_kw={"height_ratios": shares})
    if sheet.titled:
        words = {"x": 0.012, "ha": "left"}
        big, small = sheet.letter_pt * 1.25, sheet.letter_pt * 0.8
        title, beneath = _wrapped(chart.title, sheet, big * 1.12), _wrapped(about, sheet, small)
        figure.suptitle(title, fontsize=big, fontweight="bold", color=pen.inks.ink, **words)
        figure.supxlabel(beneath, fontsize=small, color=pen.inks.soft, **words)
    named: set[str] = set()
    for axes, panel, share in zip(grid[:, 0], chart.panels, shares, strict=True):
        room = height_in * 72 * share / sum(shares) / sheet.letter_pt
        if chart.sideways:
            _sideways(axes, chart, panel, pen)
        else:
            _upright(axes, chart, panel, pen, most_ticks=max(3, min(6, int(room / 4))), named=named)
    if not chart.sideways:
        _mark_x(grid[-1, 0], chart, pen)
    _settle_layout(figure)
    return figure


def _wrapped(text: str, sheet: Sheet, letter_pt: float) -> str:
    """``text`` in lines that the sheet has room for."""
    letters = int(sheet.width_in * 72 * 0.97 / (letter_pt * WIDE_LETTER))
    return "\n".join(textwrap.fill(line, letters) for line in text.split("\n"))


def _settle_layout(figure: Figure) -> None:
    """Work the layout out once, and to a millionth: its last digits differ from run to run and would show in a file.

    The files of one figure then differ in pixels, not in layout.
    """
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for axes in figure.axes:
        axes.set_position([round(edge, 6) for edge in axes.get_position().bounds])  # type: ignore[arg-type]
    for text in figure.texts:
        x, y = text.get_position()
        text.set_position((round(x, 6), round(y, 6)))


def _height(chart: Chart, sheet: Sheet) -> float:
    """Enough for the panels and their legends at this width."""
    letter_in = sheet.letter_pt / 72
    if chart.sideways:
        cases = max(len(chart.x_axis.ticks), 1)
        return min(letter_in * (10 + (4.2 if cases <= MANY_CASES else 2.8) * cases), sheet.tallest_in)
    shares = sum(max(panel.height_share, LEAST_SHARE) for panel in chart.panels)
    names = sum(len(_names(panel)) + 2 for panel in chart.panels)
    wanted = letter_in * (8 + 1.3 * names) + sheet.width_in * sheet.panel_share * shares**0.75
    return float(min(wanted, sheet.tallest_in))


def _names(panel: Panel) -> list[str]:
    return list(dict.fromkeys(mark.name for mark in panel.marks))


def _upright(axes: Axes, chart: Chart, panel: Panel, pen: Pen, *, most_ticks: int, named: set[str]) -> None:
    sheet = pen.sheet
    axes.set_facecolor("none")
    axes.set_ylim(*y_range(panel))
    if chart.x_axis.scale is Scale.LOGARITHMIC:
        axes.set_xscale("log")
    axes.set_xlim(*x_range(chart))
    for mark in panel.marks:
        draw_mark(axes, mark, sheet.line_pt, pen.inks)
    _frame(axes, pen)
    found = ticks(panel.y_axis, *y_range(panel), most_ticks)
    axes.set_yticks([value for value, _ in found], [words for _, words in found])
    rows = _legend(axes, panel, pen, named)
    pad = sheet.letter_pt * (0.45 + 1.25 * rows)
    axes.set_title(panel.y_axis.label, loc="left", fontsize=sheet.letter_pt, color=pen.inks.ink, pad=pad)


def _legend(axes: Axes, panel: Panel, pen: Pen, named: set[str]) -> int:
    """Name the marks above the panel, unless an earlier panel has; return how many rows that took beneath its name.

    Beside the panel's own name where there is room, else beneath it in as many columns as fit.
    """
    sheet = pen.sheet
    handles, names = axes.get_legend_handles_labels()
    first = dict(zip(reversed(names), reversed(handles), strict=True))
    fresh = [(first[name], name) for name in dict.fromkeys(names) if name not in named]
    named.update(names)
    if not fresh or [name for _, name in fresh] == [panel.y_axis.quantity]:
        return 0
    letters = sheet.width_in * 72 / (sheet.letter_pt * LETTER_WIDTH) * 0.9
    needed = sum(len(name) * 0.85 + 5 for _, name in fresh)
    beside = needed + len(panel.y_axis.label) + 2 <= letters
    widest = max(len(name) * 0.85 + 4 for _, name in fresh)
    columns = len(fresh) if beside else max(1, min(len(fresh), int(letters / widest)))
    axes.legend(
        [handle for handle, _ in fresh],
        [_cut(name, int(letters / 0.85 * LETTER_WIDTH / WIDE_LETTER) - 4) for _, name in fresh],
        loc="lower right" if beside else "lower left",
        bbox_to_anchor=(1.0, 1.0) if beside else (0.0, 1.0),
        ncols=columns,
        frameon=False,
        fontsize=sheet.letter_pt * 0.85,
        labelcolor=pen.inks.soft,
        borderaxespad=0.15,
        borderpad=0.1,
        labelspacing=0.25,
        handlelength=1.8,
        columnspacing=1.2,
        scatterpoints=3,
    )
    return 0 if beside else -(-len(fresh) // columns)


def _cut(name: str, most: int) -> str:
    return name if len(name) <= most else name[: most - 1].rstrip() + "…"


def _mark_x(axes: Axes, chart: Chart, pen: Pen) -> None:
    from matplotlib.ticker import NullLocator

    sheet = pen.sheet
    letters = sheet.width_in * 72 / (sheet.letter_pt * LETTER_WIDTH)
    low, high = x_range(chart)
    found: list[Tick] = ticks(chart.x_axis, low, high, max(2, int(letters / 16)), time_axis=chart.time_axis)
    if chart.x_axis.ticks:
        needed = sum(len(words) + 3 for _, words in found)
        found = found[:: max(1, -(-needed // int(letters)))]
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xticks([value for value, _ in found], [words for _, words in found])
    axes.set_xlabel(chart.x_axis.label, loc="right", fontsize=sheet.letter_pt, color=pen.inks.ink)


def _sideways(axes: Axes, chart: Chart, panel: Panel, pen: Pen) -> None:
    """Named cases beneath one another, their values along."""
    sheet = pen.sheet
    axes.set_facecolor("none")
    cases = _cases(axes, chart, panel, pen)
    places = [place for place, _ in chart.x_axis.ticks]
    axes.set_xlim(*y_range(panel))
    axes.set_ylim(cases.rows, 0.0)
    line_pt = sheet.line_pt * cases.crowded
    for mark in panel.marks:
        if isinstance(mark, Level):
            colour, dash = pen.inks.roles[mark.role], DASHES.get(mark.role, "-")
            axes.axvline(mark.y, color=colour, linestyle=dash, linewidth=sheet.line_pt * 0.8, label=mark.name)
            if mark.high > mark.low:
                axes.axvspan(mark.low, mark.high, color=colour, alpha=0.14, linewidth=0)
        elif isinstance(mark, Points):
            own = sheet.line_pt if _is_sum(mark) else line_pt
            moved = with_changes(mark, x=np.interp(mark.x, places, cases.at))
            draw_bars(axes, moved, own, pen.inks, along_x=True)
    _frame(axes, pen)
    axes.set_yticks(cases.at, cases.labels, ha="left")
    # Flush left: the labels start where the longest one does.
    longest = max((len(line) for label in cases.labels for line in label.split("\n")), default=0)
    axes.tick_params(axis="y", pad=longest * sheet.letter_pt * LABEL * 0.58)
    axes.grid(visible=False, axis="y")
    letters = sheet.width_in * 72 / (sheet.letter_pt * LETTER_WIDTH)
    found = ticks(panel.y_axis, *y_range(panel), max(2, int(letters / 18)))
    axes.set_xticks([value for value, _ in found], [words for _, words in found])
    axes.set_xlabel(panel.y_axis.label, loc="right", fontsize=sheet.letter_pt, color=pen.inks.ink)
    _legend(axes, panel, pen, set())


def _cases(axes: Axes, chart: Chart, panel: Panel, pen: Pen) -> Cases:
    sheet = pen.sheet
    line_pt = sheet.letter_pt * LABEL
    height_pt = 72 * float(axes.figure.get_figheight())  # type: ignore[union-attr]
    sums = [x for mark in panel.marks if isinstance(mark, Points) and _is_sum(mark) for x in mark.x]
    return placed(
        [words for _, words in chart.x_axis.ticks],
        lines=height_pt / line_pt - SIDEWAYS_CHROME,
        letters=sheet.width_in * 72 * LABELS_SHARE / (line_pt * LETTER_WIDTH),
        always={k for k, (place, _) in enumerate(chart.x_axis.ticks) if place in sums},
    )


def _is_sum(mark: Points) -> bool:
    """Whether a case stands for others: the mean over them, or what comes next."""
    return mark.role in (Role.REFERENCE, Role.EXPECTED)


def _frame(axes: Axes, pen: Pen) -> None:
    sheet = pen.sheet
    for side in ("top", "right", "left", "bottom"):
        axes.spines[side].set_visible(False)
    axes.grid(visible=True, color=pen.inks.grid, linewidth=sheet.line_pt * 0.45)
    axes.set_axisbelow(True)
    axes.tick_params(length=0, labelsize=sheet.letter_pt * LABEL, labelcolor=pen.inks.soft, pad=sheet.letter_pt * 0.3)
