"""Tables of text: numbers are never broken, and what does not fit is set as sentences."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.factories import plain
from wattwitness.model.section import Column, Table
from wattwitness.render.text_table import table_lines

BANDS = Table(
    caption="Bands",
    columns=(
        Column(heading="band", numeric=False),
        Column(heading="bias", unit="%"),
        Column(heading="mean power", unit="W"),
    ),
    rows=(("low", "−3.4", "124.0"), ("high and then some", "−4.9", "1274.0")),
)


def test_a_grid_sets_numbers_flush_right_under_their_unit() -> None:
    assert table_lines(BANDS, 60, len) == [
        "                            mean",
        "                    bias   power",
        "band                   %       W",
        "────────────────────────────────",
        "low                 −3.4   124.0",
        "high and then some  −4.9  1274.0",
    ]


def test_text_gives_way_before_numbers_do() -> None:
    lines = table_lines(BANDS, 34, len)
    assert any("high and then" in line for line in lines)
    assert all(len(line) <= 34 for line in lines)
    assert sum("1274.0" in line for line in lines) == 1


def test_what_does_not_fit_is_said_row_by_row() -> None:
    lines = table_lines(BANDS, 24, len)
    assert plain(lines[0]) == "- band low; bias −3.4 %;"
    assert all(len(line) <= 24 for line in lines)


def test_a_form_of_writing_is_no_unit() -> None:
    times = Table(caption="", columns=(Column(heading="from", unit="h:mm:ss"),) * 4, rows=(("0:10:00",) * 4,))
    assert " ".join(table_lines(times, 24, len)).count("h:mm:ss") == 0
    assert table_lines(times, 24, len)[0].startswith("- from 0:10:00;")


def test_an_empty_table_keeps_its_head() -> None:
    assert table_lines(Table(caption="", columns=BANDS.columns, rows=()), 60, len)[-1].startswith("──")


@given(st.lists(st.tuples(st.text("ab ", max_size=30), st.integers(-(10**6), 10**6)), max_size=5), st.integers(24, 90))
@pytest.mark.parametrize("wide", [False, True])
def test_no_line_is_wider_than_asked_for(wide: bool, cells: list[tuple[str, int]], width: int) -> None:
    columns = (Column(heading="words", numeric=False), Column(heading="number", unit="W"))
    rows = tuple((words, str(number)) for words, number in cells)
    table = Table(
        caption="", columns=columns * (2 if wide else 1), rows=tuple(row * (2 if wide else 1) for row in rows)
    )
    lines = table_lines(table, width, len)
    assert all(len(line) <= width for line in lines)
    for _, number in cells:
        assert any(str(number) in line for line in lines)
