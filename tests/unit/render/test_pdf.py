"""A publication on paper: tagged, the same bytes each time, and no name that can give the typesetter an order."""

from __future__ import annotations

import json
import re
import zlib
from dataclasses import replace

import numpy as np
import pytest
import typst

from tests.factories import COMPARISONS, HOSTILE_NAME, comparison, pair
from wattwitness.model.chart import Axis, Chart, Line, Panel, Role
from wattwitness.model.publication import Publication
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone, Voice
from wattwitness.render.glyphs import drawable
from wattwitness.render.pdf import MOST_ROWS, TEMPLATE, inputs, pdf
from wattwitness.render.pdf_tables import PAGE_PT, fitted
from wattwitness.sections.publication import of_comparison
from wattwitness.sections.tester_notes import with_notes

ORDERS = (
    '#read("/etc/passwd")',
    '#import "@preview/x:1.0.0"',
    '#eval("1+1")',
    "= a heading",
    "$ x^2 $",
    "*bold* _slanted_ `code`",
    "back\\slash \" quote ' and \\u{41}",
    "]#[} ) ;",
    "</script><script>",
    "\x00\x07 control",
    "\u202e turned round \u2066",
    "مختبر עברית Ωμέγα 実験室 🚴",
    "x" * 4_000,
    "//comment /* and */",
    "\ud800 half a letter",
)


def chart(name: str) -> Chart:
    line = Line(name=name, role=Role.UNIT, x=np.array([0.0, 1.0]), y=np.array([100.0, 120.0]))
    panel = Panel(y_axis=Axis(quantity="power", unit="W"), marks=(line,))
    axis = Axis(quantity="time", unit="s")
    return Chart(name="one", title=name, caption=name, alt=name, x_axis=axis, panels=(panel,))


def saying(text: str) -> Publication:
    table = Table(caption=text, columns=(Column(heading=text, unit=text),), rows=((text,),))
    section = Section(name="answer", title=text, blocks=(Paragraph(text=text, tone=Tone.HEADLINE), table))
    words = Section(name="tester_notes", title="Notes", blocks=(Paragraph(text=text),), voice=Voice.TESTER)
    return Publication(title=text, kind="test", when=text, about=text, version="0", sections=(section, words))


def whole(content: bytes) -> bytes:
    """The file with every compressed stream after it, unpacked."""
    found = [content]
    for match in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL):
        try:
            found.append(zlib.decompress(match.group(1)))
        except zlib.error:
            continue
    return b"\n".join(found)


def headings(publication: Publication) -> list[str]:
    """What the typesetter took for headings, each as the plain text it holds."""
    found = typst.query(TEMPLATE.read_bytes(), "heading", sys_inputs=inputs(publication), ignore_system_fonts=True)
    return [item["body"]["text"] for item in json.loads(found)]


@pytest.mark.parametrize("order", ORDERS, ids=range(len(ORDERS)))
def test_a_name_is_never_an_order(order: str) -> None:
    publication = saying(order)
    assert pdf(publication).startswith(b"%PDF-")
    kept = drawable("".join(sign for sign in order if sign.isprintable() or sign in "\u202e\u2066"))
    title, *sections = headings(publication)
    assert title == kept
    assert sections == [kept, "Notes"], "no name made a heading of its own"


def test_orders_in_the_words_of_a_chart_stay_words() -> None:
    for order in ORDERS[:6]:
        section = Section(name="answer", title="Answer", blocks=(chart(order),))
        assert pdf(replace(saying("x"), sections=(section,))).startswith(b"%PDF-")


def test_it_is_tagged_in_english_with_a_title_and_no_author_or_date() -> None:
    text = whole(pdf(of_comparison(comparison(pair(seconds=900)))))
    for part in (
        b"/StructTreeRoot",
        b"/MarkInfo",
        b"/Lang",
        b"/Alt",
        b"/Table",
        b"/TH",
        b"/Figure",
        b"/Caption",
        b"/H2",
    ):
        assert part in text, part
    assert b"pdfuaid:part" in text
    assert b"/Author" not in text
    assert b"CreationDate" not in text
    assert b"/JavaScript" not in text
    assert not re.search(rb"/URI\b", text)


def test_the_same_publication_gives_the_same_bytes() -> None:
    publication = of_comparison(COMPARISONS["several_units"]())
    assert pdf(publication) == pdf(publication)


@pytest.mark.parametrize("name", ["hostile_names", "same_source", "reference_without_power", "huge_values"])
def test_every_kind_of_comparison_can_be_set(name: str) -> None:
    publication = of_comparison(COMPARISONS[name]())
    assert pdf(publication).startswith(b"%PDF-")
    if name == "hostile_names":
        assert HOSTILE_NAME[:12] in headings(publication)[0]


def test_a_chart_without_words_for_the_blind_gets_its_title() -> None:
    bare = replace(chart("Power"), alt="")
    section = Section(name="answer", title="Answer", blocks=(bare,))
    assert b"/Alt" in whole(pdf(replace(saying("x"), sections=(section,))))


def made(columns: int, rows: int, cell: str) -> Table:
    return Table(
        caption="Many",
        columns=tuple(Column(heading=f"heading {k}", unit="%", numeric=k > 0) for k in range(columns)),
        rows=tuple(tuple(f"{cell}{k}" for k in range(columns)) for _ in range(rows)),
    )


@pytest.mark.parametrize(("columns", "cell"), [(2, "x "), (9, "−12.34 "), (14, "word and words "), (30, "x" * 40)])
def test_a_wide_table_fits_the_page_and_loses_no_column(columns: int, cell: str) -> None:
    table = made(columns, 3, cell)
    parts = fitted(table)
    for part in parts:
        assert sum(part.widths_pt) <= PAGE_PT + 0.01
        assert part.table.columns[0].heading == "heading 0"
    found = [column.heading for part in parts for column in part.table.columns[1:]]
    assert found == [f"heading {k}" for k in range(1, columns)]


def test_a_long_table_goes_on_over_pages_and_what_is_left_out_is_said() -> None:
    section = Section(name="answer", title="Answer", blocks=(made(3, 400, "x"),))
    text = whole(pdf(replace(saying("x"), sections=(section,))))
    assert max(int(count) for count in re.findall(rb"/Count (\d+)", text)) > 4
    folded = replace(made(3, MOST_ROWS + 1, "x"), folded=True)
    content = json.loads(inputs(replace(saying("x"), sections=(replace(section, blocks=(folded,)),)))["content"])
    (block,) = content["sections"][0]["blocks"]
    assert block["kind"] == "empty"
    assert "left out" in block["text"]


def test_a_long_word_is_broken_at_the_end_of_a_line() -> None:
    """On one line each, three paragraphs would fit one page."""
    notes = "\n\n".join(sign * 3900 for sign in ("a/", "W", "m"))
    text = whole(pdf(with_notes(saying("x"), notes)))
    assert max(int(count) for count in re.findall(rb"/Count (\d+)", text)) >= 3


def test_signs_that_no_font_holds_stand_by_name_and_one_sentence_says_so() -> None:
    publication = saying("Bike 🚴 自行车")
    content = json.loads(inputs(publication)["content"])
    assert content["title"] == "Bike [bicyclist] [U+81EA U+884C U+8F66]"
    assert content["lacking"].endswith("in square brackets: bicyclist, U+81EA, U+884C, U+8F66.")
    assert b"LastResort" not in pdf(publication)
    assert json.loads(inputs(saying("Bike"))["content"])["lacking"] == ""
