"""Sections as HTML: sentences, figures and tables, every text from a file escaped."""

from __future__ import annotations

from html import escape

from wattwitness.model.chart import Chart, Level, Line, Panel, Points, Span
from wattwitness.model.section import Paragraph, Section, Table, Tone, Voice
from wattwitness.render.page_data import is_zoomable
from wattwitness.render.svg import NARROW, PAPERS, PRINTED, STILL, chart_svg, stretch_swatch, swatch
from wattwitness.words.numbers import clock_time

MOST_PRINTED_ROWS = 80
"""A longer table stays off the paper: it is there as a file, and on the screen."""

MOST_OPEN_ROWS = 14
WIDE_COLUMNS = 3
"""A table with as many may not fit a phone, and says there that it scrolls."""
LEADS = {Tone.WARNING: "Mind: "}


def section_html(section: Section, *, still: bool = False) -> str:
    """One section with its heading and blocks in reading order; ``still``: for a page that runs no script."""
    name = escape(section.name)
    blocks = "\n".join(_block(block, still=still) for block in section.blocks)
    voice = ' class="tester"' if section.voice is Voice.TESTER else ""
    return (
        f'<section id="{name}"{voice} aria-labelledby="{name}-title">\n'
        f'<h2 id="{name}-title">{escape(section.title)}</h2>\n{blocks}\n</section>'
    )


def _block(block: Paragraph | Table | Chart, *, still: bool) -> str:
    if isinstance(block, Paragraph):
        return _paragraph(block)
    return _table(block) if isinstance(block, Table) else _figure(block, still=still)


def _paragraph(paragraph: Paragraph) -> str:
    lead = LEADS.get(paragraph.tone, "")
    start = f"<strong>{lead}</strong>" if lead else ""
    return f'<p class="{paragraph.tone}">{start}{escape(paragraph.text)}</p>'


def _figure(chart: Chart, *, still: bool) -> str:
    """A chart: zoomable where the script draws it, else two drawings, one for narrow screens."""
    if not chart.panels:
        return f'<p class="empty"><strong>{escape(chart.title)}.</strong> {escape(chart.empty)}</p>'
    if is_zoomable(chart) and not still:
        return _zoomable(chart)
    drawings = "".join(chart_svg(chart, paper) for paper in ((STILL, NARROW) if still else PAPERS))
    several = len(chart.panels) > 1
    named = [panel for k, panel in enumerate(chart.panels) if _names_more(panel, chart.panels[:k])]
    legends = "".join(_legend(panel, named=several and len(named) > 1, points=not chart.sideways) for panel in named)
    return (
        f'<figure id="{escape(chart.name)}">\n<h3>{escape(chart.title)}</h3>\n{legends}'
        f'<div class="drawing" role="img" aria-label="{escape(chart.alt)}">{drawings}</div>\n'
        f"<figcaption>{escape(chart.caption)}</figcaption>\n</figure>"
    )


def _names_more(panel: Panel, before: tuple[Panel, ...]) -> bool:
    """Whether a panel holds a mark that none of those before it holds."""
    known = {mark.name for other in before for mark in other.marks}
    return any(mark.name not in known for mark in panel.marks)


def _legend(panel: Panel, *, named: bool = False, live: bool = False, points: bool = True, spans: bool = True) -> str:
    """Names of the marks with a sample of each; ``live`` leaves room for the value under the cursor.

    Without ``points`` only lines and levels are named, without ``spans`` no shaded stretch.
    """
    items = []
    for mark in sorted(panel.marks, key=lambda mark: isinstance(mark, Span)):
        if isinstance(mark, Line):
            sample = swatch(mark.role, filled=mark.filled)
        elif isinstance(mark, Points):
            if not points:
                continue  # named beside the drawing itself
            sample = swatch(mark.role, points=not mark.cloud, cloud=mark.cloud)
        elif isinstance(mark, Level):
            sample = swatch(mark.role, band=mark.high > mark.low)
        elif spans:
            sample = stretch_swatch(mark.role, mark.shading)
        else:
            continue  # named once, at the first panel
        value = ' <output class="value"></output>' if live and isinstance(mark, Line) else ""
        item = f"<li>{sample}<span>{escape(mark.name)}</span>{value}</li>"
        if item not in items:
            items.append(item)
    lead = f'<span class="axis-name">{escape(panel.y_axis.label)}</span>' if named or live else ""
    return f'<div class="legend">{lead}<ul>{"".join(items)}</ul></div>'


def _zoomable(chart: Chart) -> str:
    name, alt = escape(chart.name), escape(chart.alt)
    legends = "".join(_legend(panel, named=True, spans=k == 0) for k, panel in enumerate(chart.panels))
    panels = "\n".join(
        f'<div class="panel">{_legend(panel, live=True, spans=k == 0)}'
        f'<div class="plot" role="img" aria-label="{escape(chart.title)}: {escape(panel.y_axis.label)}"></div></div>'
        for k, panel in enumerate(chart.panels)
    )
    return f"""<figure id="{name}" class="ride" data-chart="{name}">
<h3>{escape(chart.title)}</h3>
<div class="tools" role="group" aria-label="View of the panels">
<span class="time">at <output class="now">–</output></span>
<span class="buttons">
<button type="button" data-do="earlier" aria-label="Earlier">◀</button>
<button type="button" data-do="later" aria-label="Later">▶</button>
<button type="button" data-do="closer" aria-label="Closer">+</button>
<button type="button" data-do="wider" aria-label="Wider">−</button>
<button type="button" data-do="whole">Whole ride</button>
</span>
<label class="mean">Draw means of <select data-do="mean"><option value="1">1 s</option><option value="10">10 s</option>\
<option value="30">30 s</option></select></label>
</div>
<div class="view{" listed" if chart.places else ""}">
<div class="plots" tabindex="0" role="group" aria-label="{alt}" aria-describedby="{name}-keys">
{panels}
</div>
{_places(chart)}</div>
<p class="keys" id="{name}-keys"><span class="touch">One finger reads, two fingers zoom and move.</span> \
<span class="mouse">Drag across a panel to zoom, or turn the wheel with Ctrl held; double-click for the whole ride. \
Keys: + and − zoom, arrows move the reading, with Shift the view, 0 shows the whole ride.</span></p>
<p class="spoken" aria-live="polite"></p>
<div class="paper">{legends}<div class="drawing" role="img" aria-label="{alt}">{chart_svg(chart, PRINTED)}</div></div>
<noscript><p class="note">Without scripts this is a still picture; the numbers are in the table below.</p></noscript>
<figcaption>{escape(chart.caption)}</figcaption>
</figure>"""


def _places(chart: Chart) -> str:
    """The list beside the panels: each entry a button that leads to its stretch in all panels."""
    if not chart.places:
        return ""
    items = "\n".join(
        f'<li><button type="button" data-from="{_seconds(place.start)}" data-to="{_seconds(place.end)}" '
        f'aria-pressed="false">{stretch_swatch(place.role, place.shading)}<span class="what">{k}. {escape(place.title)}'
        f'</span> <span class="where">{escape(place.says)}</span></button></li>'
        for k, place in enumerate(chart.places, start=1)
    )
    title = f"{escape(chart.name)}-places"
    return (
        f'<div class="places" role="group" aria-labelledby="{title}"><h4 id="{title}">{escape(chart.places_title)}</h4>'
        f'<ol>\n{items}\n</ol>\n<button type="button" class="back" data-do="whole" disabled>Leave the episode</button>'
        "</div>\n"
    )


def _seconds(value: float) -> str:
    """A time for the page's script: tenths of a second are finer than any panel."""
    return f"{value:.1f}".removesuffix(".0")


def _table(table: Table) -> str:
    """A table; one that stands behind a chart or is long stays closed until asked for."""
    caption = escape(table.caption)
    if table.folded or len(table.rows) > MOST_OPEN_ROWS:
        css = ' class="long"' if len(table.rows) > MOST_PRINTED_ROWS else ""
        return f"<details{css}><summary>{caption}</summary>\n{_grid(table, hidden_caption=True)}\n</details>"
    return _grid(table, hidden_caption=False)


def _grid(table: Table, *, hidden_caption: bool) -> str:
    caption = escape(table.caption)
    css = ' class="unseen"' if hidden_caption else ""
    heads = "".join(_heading(column.heading, column.unit, numeric=column.numeric) for column in table.columns)
    if table.places:
        heads += '<th scope="col" class="go"><span class="unseen">Show in the panels</span></th>'
    rows = "\n".join(_row(table, k) for k in range(len(table.rows)))
    wide = len(table.columns) >= WIDE_COLUMNS
    cue = '<p class="wider" aria-hidden="true">Where the side is shaded, swipe the table for more columns →</p>\n'
    return (
        f'{cue if wide else ""}<div class="scroll" role="region" aria-label="{caption}" tabindex="0">'
        f"<table><caption{css}>{caption}</caption><thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody></table></div>"
    )


def _heading(heading: str, unit: str, *, numeric: bool) -> str:
    css = ' class="number"' if numeric else ""
    if not heading:
        return f"<td{css}></td>"
    said = f'{escape(heading)}<span class="unit">{escape(unit)}</span>' if unit else escape(heading)
    return f'<th scope="col"{css}>{said}</th>'


def _row(table: Table, k: int) -> str:
    cells = []
    for place, (column, cell) in enumerate(zip(table.columns, table.rows[k], strict=True)):
        css = ' class="number"' if column.numeric else ""
        tag, scope = ("th", ' scope="row"') if place == 0 else ("td", "")
        cells.append(f"<{tag}{scope}{css}>{escape(cell)}</{tag}>")
    if table.places:
        cells.append(_go(table.places[k], table.leads_to))
    return f"<tr>{''.join(cells)}</tr>"


def _go(stretch: tuple[float, float] | None, leads_to: str) -> str:
    """A button that leads to a stretch of the ride, in the chart called ``leads_to``."""
    if stretch is None:
        return '<td class="go"></td>'
    start, end = stretch
    chart = f'data-in="{escape(leads_to)}" ' if leads_to else ""
    words = f"Show {clock_time(start)} to {clock_time(end)} in the panels"
    return (
        f'<td class="go"><button type="button" data-from="{_seconds(start)}" data-to="{_seconds(end)}" {chart}'
        f'aria-label="{escape(words)}">show</button></td>'
    )
