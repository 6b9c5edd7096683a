"""Tables of the report as files: numbers stay numbers, and no name becomes a formula, a cell or markup."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import replace

import pandas as pd
import pytest

from tests.factories import COMPARISONS
from tests.unit.sections.test_over_rides import APART, GOOD, LOW, looked, study
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Table
from wattwitness.render.markdown import plain, table_text
from wattwitness.sections.publication import of_comparison, of_study
from wattwitness.words.estimates import with_interval
from wattwitness.words.numbers import ABSENT, MINUS, NBSP
from wattwitness.writers.report_cells import CellParts, as_number, parts_of
from wattwitness.writers.report_table import report_table

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
GROUPS = [replace(ride, group="old", name=f"old {k}") for k, ride in enumerate(LOW)]
GROUPS += [replace(ride, group="new", name=f"new {k}") for k, ride in enumerate(GOOD)]
STUDIES = ((looked(APART), "", ""), (looked(GROUPS), "old", "new"), (GOOD[:1], "", ""))


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
    ("text", "number"),
    [
        ("−4.3", "-4.3"),
        ("+1", "1"),
        ("-2", "-2"),
        (f"−1.23{NBSP}×{NBSP}10^16", "-1.23e16"),
        ("1 to 2", None),
        ("=1", None),
        ("1e5", None),
    ],
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


def percent(value: float | None, low: float, high: float, unit: str = "%") -> Estimate:
    return Estimate(value=value, low=low, high=high, unit=unit)


@pytest.mark.parametrize(
    ("estimate", "found"),
    [
        (percent(-5.54, -16.6, 5.6), CellParts(value="-5.5", low="-16.6", high="5.6", unit="%")),
        (percent(12.3, 12.22, math.inf, "s"), CellParts(value="12.3", low="12.2", high="inf", unit="s")),
        (percent(-12345.0, -23456.0, 0.0, "W"), CellParts(value="-12345.0", low="-23456.0", high="0.0", unit="W")),
        (percent(0.74, 0.05, 5.77, "1"), CellParts(value="0.7", low="0.1", high="5.8")),
        (Estimate.missing("no_power", "%"), CellParts(words="not assessed: one of the recordings holds no power")),
    ],
    ids=["percent", "open", "thousands", "ratio", "missing"],
)
def test_an_estimate_is_taken_apart_as_the_report_writes_it(estimate: Estimate, found: CellParts) -> None:
    assert parts_of(with_interval(estimate)) == found


def test_an_estimate_with_its_interval_becomes_columns() -> None:
    table = Table(
        caption="In numbers",
        columns=(
            Column(heading="figure", numeric=False),
            Column(heading="value", numeric=False),
            Column(heading="depth (95 % interval)", unit="%"),
            Column(heading="error", numeric=False),
        ),
        rows=(
            ("+1 (0 to 2)", with_interval(percent(0.7, -0.5, 1.9)), f"{MINUS}31 ({MINUS}34 to {MINUS}28)", "3.20 %"),
            ("ratio", with_interval(percent(1.2, 0.8, 1.9, "1")), ABSENT, "0.02 s"),
            ("next", f"{MINUS}9.0 to +2.0", "+41 (+35 to +47)", ABSENT),
            ("by hand", f"+3600.50 s ({MINUS}1:00:00), taken as exact", ABSENT, ABSENT),
            ("answer", "yes", ABSENT, ABSENT),
            ("none", ABSENT, ABSENT, ABSENT),
        ),
    )
    frame = pd.read_csv(io.BytesIO(report_table(table)))
    assert list(frame.columns) == [
        "figure",
        *("value", "value from", "value to", "value unit", "value in words"),
        *("depth, %", "depth 95 % interval from, %", "depth 95 % interval to, %"),
        *("error", "error unit"),
    ]
    shown = frame.astype(object).where(frame.notna(), None)
    assert shown["figure"].tolist()[0] == "'+1 (0 to 2)", "what a tester calls a ride is no estimate"
    assert shown["value"].tolist() == [0.7, 1.2, None, 3600.5, None, None]
    assert shown["value from"].tolist() == [-0.5, 0.8, -9.0, None, None, None]
    assert shown["value to"].tolist() == [1.9, 1.9, 2.0, None, None, None]
    assert shown["value unit"].tolist() == ["%", None, None, "s", None, None]
    assert shown["value in words"].tolist() == [None, None, None, "(−1:00:00), taken as exact", "yes", None]
    assert shown["depth, %"].tolist() == [-31, None, 41, None, None, None]
    assert shown["depth 95 % interval to, %"].tolist() == [-28, None, 47, None, None, None]
    assert shown["error unit"].tolist() == ["%", "s", None, None, None, None]


def test_a_column_of_intervals_keeps_its_form_where_all_are_missing() -> None:
    columns = (Column(heading="ride", numeric=False), Column(heading="interval", unit="%"), Column(heading="s"))
    table = Table(caption="x", columns=columns, rows=(("one", ABSENT, "1"), ("two", ABSENT, f"{MINUS}0:00:05")))
    assert cells(report_table(table)) == [
        ["ride", "interval from, %", "interval to, %", "s"],
        ["one", "", "", "1"],
        ["two", "", "", "-0:00:05"],
    ]


def test_no_number_of_the_program_is_struck_or_left_in_a_text_cell() -> None:
    """Over every table of every report that tests make: numbers of the report are numbers of the file."""
    made = [of_comparison(make()) for make in COMPARISONS.values()]
    made += [of_study(study(rides, before=before, after=after)) for rides, before, after in STUDIES]
    left = re.compile(rf"[+{MINUS}]\d.*|[+{MINUS}-]?\d+(\.\d+)? \(.*\d to .*\d\).*")
    seen = 0
    for table in (table for publication in made for _, table in publication.tables):
        for row in cells(report_table(table))[1:]:
            for cell in row[1:]:
                seen += 1
                assert not cell.startswith(("'+", "'-", f"'{MINUS}")), (table.caption, cell)
                assert not left.fullmatch(cell), (table.caption, cell)
    assert seen > 1000
