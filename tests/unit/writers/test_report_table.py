"""Tables of the report as files: numbers stay numbers, and no name becomes a formula, a cell or markup."""

from __future__ import annotations

import csv
import io

import pandas as pd
import pytest

from wattwitness.model.section import Column, Table
from wattwitness.render.markdown import plain, table_text
from wattwitness.words.numbers import ABSENT, MINUS, NBSP
from wattwitness.writers.report_table import as_number, report_table

NUMBERS = Table(
    caption="The bias",
    columns=(
        Column(heading="ride", numeric=False),
        Column(heading="bias", unit="%"),
        Column(heading="interval", unit="%"),
        Column(heading="seconds"),
    ),
    rows=(
        ("one", f"{MINUS}4.3", f"{MINUS}4.8 to {MINUS}3.8", f"12{NBSP}345"),
        ("two", "+1.25", f"{MINUS}∞ to +3.0", "600"),
        ("three", ABSENT, ABSENT, "0"),
    ),
)
FORMULAS = ("=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1+1", "\r=1+1", "\u2068=1+1\u2069", "＝1+1", "=X()")


def of(text: str) -> Table:
    return Table(
        caption=text,
        columns=(Column(heading=text, numeric=False), Column(heading="n", unit="W")),
        rows=((text, "1"), ("x", "2")),
    )


def cells(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_numbers_are_read_as_numbers_by_another_program() -> None:
    frame = pd.read_csv(io.BytesIO(report_table(NUMBERS)))
    assert list(frame.columns) == ["ride", "bias, %", "interval from, %", "interval to, %", "seconds"]
    assert frame["bias, %"].tolist()[:2] == [-4.3, 1.25]
    assert frame["interval from, %"].tolist()[:2] == [-4.8, float("-inf")]
    assert frame["interval to, %"].tolist()[:2] == [-3.8, 3.0]
    assert frame["seconds"].tolist() == [12345, 600, 0]
    assert frame.iloc[2, 1:4].isna().all(), "what is missing is empty, never zero"


def test_a_spreadsheet_is_told_the_encoding() -> None:
    assert report_table(NUMBERS).startswith(b"\xef\xbb\xbfride,")


@pytest.mark.parametrize("text", FORMULAS, ids=range(len(FORMULAS)))
def test_a_formula_is_text(text: str) -> None:
    for row in cells(report_table(of(text))):
        assert row[0].startswith("'") or row[0] == "x"
        assert row[0].lstrip("'")[:1] in "=+-@x＝"


@pytest.mark.parametrize("text", ["x;=1+1", "x; =1+1", 'a"b,c', "two\nlines", "x;\t-1"])
def test_no_text_leaves_its_cell(text: str) -> None:
    content = report_table(of(text))
    assert [len(row) for row in cells(content)] == [2, 2, 2]
    for line in content.decode("utf-8-sig").splitlines():
        for part in line.split(";")[1:]:
            assert part.strip()[:1] not in tuple("=+-@"), "nor does it where cells are parted by semicolons"


@pytest.mark.parametrize(
    ("text", "number"), [("−4.3", "-4.3"), ("+1", "1"), ("-2", "-2"), ("1 to 2", None), ("=1", None), ("1e5", None)]
)
def test_what_is_a_number(text: str, number: str | None) -> None:
    assert as_number(text) == number


@pytest.mark.parametrize(
    "text",
    ["a|b", "<script>alert(1)</script>", "[x](javascript:1)", "![x](y)", "`code`", "a\nb", "&lt;", "https://x.y"],
)
def test_no_name_is_markup(text: str) -> None:
    lines = table_text(of(text), about="about").splitlines()
    rows = [line for line in lines if line.startswith("| ")]
    assert len(rows) == 3
    for line in rows:
        bare = line.replace("\\|", "").replace("\\\\", "")
        assert bare.count("|") == 3
        assert "<" not in line
    said = plain(text)
    for sign in ("[", "`"):
        assert said.count(sign) == said.count("\\" + sign)
    assert "https:" not in said
    assert "&lt;" not in said or "<" in text or "&amp;lt;" in said


def test_markdown_keeps_units_in_the_headings_and_says_what_it_is_of() -> None:
    text = table_text(NUMBERS, about="Bike B against pedals; wattwitness 1")
    assert text.startswith("The bias:\n\n| ride | bias, % | interval, % | seconds |\n|---|---:|---:|---:|\n")
    assert text.endswith("\nBike B against pedals; wattwitness 1\n")
