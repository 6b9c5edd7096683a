"""A publication as PDF: tagged, with numbered figures and tables, alternative texts, and the method at the end.

It is set by a typesetting library that runs here and asks nothing of the system or the network. All that is said goes
to it as data, never as markup, so that no name can give it an order. The same publication gives the same bytes: there
is no date in it, and the fonts are those that come with the libraries.
"""

from __future__ import annotations

import json
import tempfile
import unicodedata
from dataclasses import replace as with_changes
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from wattwitness.model.chart import Chart
from wattwitness.model.publication import Publication
from wattwitness.model.section import Paragraph, Section, Table, Voice
from wattwitness.render.figure_drawing import Sheet
from wattwitness.render.figures import Edition, chart_files
from wattwitness.render.glyphs import drawable, sentence_of
from wattwitness.render.pdf_tables import PAGE_PT, Fitted, fitted
from wattwitness.render.saving import save
from wattwitness.words.numbers import number

TEMPLATE = files("wattwitness.render") / "assets" / "publication.typ"
ACROSS = Edition(
    suffix="",
    sheet=Sheet(
        width_in=PAGE_PT / 72,
        height_in=None,
        letter_pt=8.5,
        line_pt=1.0,
        titled=False,
        panel_share=0.25,
        tallest_in=8.4,
    ),
    pngs=(),
)
STANDARD: Final = "ua-1"
"""PDF/UA-1 (ISO 14289-1): the library refuses to write what a screen reader could not follow."""

SMALL = "method"
MOST_ROWS = 60
"""The numbers behind a chart are left out where they would fill pages; the tables beside the PDF hold them."""


def write_pdf(publication: Publication, path: Path, *, replace: bool = True) -> None:
    """Write the pages in one step. Raises OutputExists, OutputNotWritable."""
    save(pdf(publication), path, replace=replace)


def pdf(publication: Publication) -> bytes:
    """The pages as bytes."""
    import typst

    with tempfile.TemporaryDirectory(prefix="wattwitness-") as folder:
        template = Path(folder) / "publication.typ"
        template.write_bytes(TEMPLATE.read_bytes())
        return typst.compile(
            template,
            root=Path(folder),  # the template reads no file; here is no other to read
            font_paths=[_fonts()],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=[STANDARD],
            sys_inputs=inputs(publication),
        )


def inputs(publication: Publication) -> dict[str, str]:
    """All that is said and drawn, as the data that the template takes."""
    return {"content": json.dumps(_content(publication))}


def _fonts() -> Path:
    """Letters for names in other scripts, from the library that draws the figures."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"


def _content(publication: Publication) -> dict[str, Any]:
    about = publication.about
    return {
        "title": _shown(publication.title),
        "kind": publication.kind,
        "when": _shown(publication.when),
        "maker": "wattwitness",
        "footer": _shown(f"wattwitness {publication.version} · {publication.title}"),
        "sections": [_section(section, about) for section in publication.sections],
        "lacking": sentence_of(publication, where="this PDF"),
    }


def _section(section: Section, about: str) -> dict[str, Any]:
    return {
        "title": _shown(section.title),
        "tester": section.voice is Voice.TESTER,
        "small": section.name == SMALL,
        "blocks": [made for block in section.blocks for made in _block(block, about, whole=section.name == SMALL)],
    }


def _block(block: Paragraph | Table | Chart, about: str, *, whole: bool) -> list[dict[str, Any]]:
    if isinstance(block, Paragraph):
        return [{"kind": "said", "tone": block.tone.value, "text": _shown(block.text)}]
    if isinstance(block, Table):
        return _tables(block, whole=whole)
    if not block.panels:
        return [{"kind": "empty", "title": _shown(block.title), "text": _shown(block.empty)}]
    return [_figure(block, about)]


def _figure(chart: Chart, about: str) -> dict[str, Any]:
    drawing = chart_files(chart, ACROSS, about)[".svg"].decode("utf-8")
    return {
        "kind": "drawn",
        "svg": drawing,
        "width_pt": PAGE_PT,
        "alt": _spoken(chart.alt or chart.title),
        "title": _shown(chart.title).rstrip("."),
        "caption": _shown(chart.caption),
    }


def _tables(table: Table, *, whole: bool) -> list[dict[str, Any]]:
    """The table, in parts where it is wide; ``whole``: the small print, of which nothing is left out."""
    if not whole and table.folded and len(table.rows) > MOST_ROWS:
        text = f"{number(len(table.rows), 0)} rows, left out on paper. The page and the tables beside this hold them."
        return [{"kind": "empty", "title": _shown(table.caption), "text": text}]
    return [_table(part) for part in fitted(_shown_table(table))] if table.rows else []


def _table(part: Fitted) -> dict[str, Any]:
    return {
        "kind": "ruled",
        "caption": part.table.caption,
        "size_pt": part.size_pt,
        "widths_pt": part.widths_pt,
        "numeric": [column.numeric for column in part.table.columns],
        "headings": [[column.heading, column.unit] for column in part.table.columns],
        "rows": part.table.rows,
    }


def _shown_table(table: Table) -> Table:
    columns = tuple(
        with_changes(column, heading=_shown(column.heading), unit=_shown(column.unit)) for column in table.columns
    )
    rows = tuple(tuple(_shown(cell) for cell in row) for row in table.rows)
    return with_changes(table, caption=_shown(table.caption), columns=columns, rows=rows)


def _shown(text: str) -> str:
    """``text`` as the fonts can show it."""
    return drawable(text)


def _spoken(text: str) -> str:
    """``text`` for a screen reader, which needs no shapes: all signs but those that no document may hold."""
    return "".join(sign for sign in text if sign == "\n" or unicodedata.category(sign) not in ("Cc", "Cs", "Co", "Cn"))
