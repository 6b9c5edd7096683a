"""Every section, on every kind of comparison, in every rendering."""

from __future__ import annotations

import io
from html import unescape

import pytest
from rich.console import Console

from tests.factories import COMPARISONS, SERIAL
from wattwitness.model.chart import Chart
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Paragraph, Section, Table, Tone
from wattwitness.render.html import page
from wattwitness.render.terminal import print_comparison
from wattwitness.sections.publication import of_comparison
from wattwitness.sections.registry import SECTIONS, SectionSpec, sections_of

MADE = {name: make() for name, make in COMPARISONS.items()}
ALWAYS = {"answer", "ride", "clock", "method"}


def texts(section: Section) -> list[str]:
    found = [section.title]
    for block in section.blocks:
        if isinstance(block, Paragraph):
            found.append(block.text)
        elif isinstance(block, Table):
            found += [block.caption, *(cell for row in block.rows for cell in row)]
            found += [word for column in block.columns for word in (column.heading, column.unit)]
        else:
            found += [block.title, block.caption, block.alt, block.empty]
    return found


@pytest.mark.parametrize("spec", list(SECTIONS), ids=lambda spec: spec.name)
@pytest.mark.parametrize("comparison", list(MADE.values()), ids=list(MADE))
class TestEverySection:
    def test_is_whole(self, spec: SectionSpec, comparison: Comparison) -> None:
        section = spec.build(comparison)
        if section is None:
            assert spec.name not in ALWAYS
            return
        assert section.name == spec.name
        assert section.title
        assert section.blocks

    def test_speaks_in_whole_sentences(self, spec: SectionSpec, comparison: Comparison) -> None:
        section = spec.build(comparison)
        for block in section.blocks if section else ():
            if isinstance(block, Paragraph):
                end = block.text.rstrip("\u2069")[-1]
                assert end in ".!?)" or block.tone is Tone.WARNING or section.name == "notices", block.text  # type: ignore[union-attr]
                assert ".." not in block.text.replace("…", "")
                assert "None" not in block.text
                assert "nan" not in block.text.split()

    def test_keeps_charts_apart_by_name(self, spec: SectionSpec, comparison: Comparison) -> None:
        section = spec.build(comparison)
        names = [block.name for block in section.blocks if isinstance(block, Chart)] if section else []
        assert len(set(names)) == len(names)

    def test_lets_no_sign_from_a_file_turn_it_around(self, spec: SectionSpec, comparison: Comparison) -> None:
        section = spec.build(comparison)
        for text in texts(section) if section else ():
            assert not set(text) & set("\x1b\x07\u202e\u202d\u2028\u2029"), text

    def test_shows_no_serial_number(self, spec: SectionSpec, comparison: Comparison) -> None:
        section = spec.build(comparison)
        assert all(SERIAL not in text for text in (texts(section) if section else ()))


@pytest.mark.parametrize("comparison", list(MADE.values()), ids=list(MADE))
def test_every_section_stands_on_the_page(comparison: Comparison) -> None:
    html = page(of_comparison(comparison))
    said = unescape(html)
    for section in sections_of(comparison):
        assert f'<section id="{section.name}"' in html
        for block in section.blocks:
            if isinstance(block, Paragraph):
                assert block.text in said
            elif isinstance(block, Table):
                assert block.caption in said
                assert all(cell in said for row in block.rows for cell in row)
            else:
                assert (block.empty or block.alt) in said


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("comparison", list(MADE.values()), ids=list(MADE))
def test_every_section_stands_in_the_terminal(comparison: Comparison, width: int) -> None:
    console = Console(file=io.StringIO(), width=width, highlight=False, markup=False, emoji=False)
    print_comparison(comparison, console)
    output = console.file.getvalue()  # type: ignore[attr-defined]
    squeezed = "".join(output.split())
    assert all(len(line) <= width for line in output.split("\n"))
    assert "\x1b" not in output
    for section in sections_of(comparison):
        for block in section.blocks:
            if isinstance(block, Paragraph):
                assert "".join(block.text.split()) in squeezed.replace("!" + block.text[:1], block.text[:1])
            elif isinstance(block, Table) and not block.folded:
                assert "".join(block.caption.split()) in squeezed


def test_charts_of_one_page_have_names_of_their_own() -> None:
    for comparison in MADE.values():
        names = [
            block.name for section in sections_of(comparison) for block in section.blocks if isinstance(block, Chart)
        ]
        assert len(set(names)) == len(names)
