"""Limits of agreement: how far single readings stray, by how long they are averaged."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import limits_of_agreement
from wattwitness.model.agreement import AgreementLimits
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import interval_cell, value_cell
from wattwitness.words.numbers import NBSP, number, quantity, short_duration

NAME = "limits"
TITLE = "How far single readings stray"


def build(comparison: Comparison) -> Section | None:
    """Limits of agreement for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    limits = named.pair.limits_of_agreement
    if not limits:
        yield not_assessed_paragraph(
            named, "limits_of_agreement", "The limits of agreement", named.pair.overall.bias_pct
        )
        return
    yield Paragraph(text=_sentence(named, limits))
    yield limits_of_agreement.build(named.pair)
    yield Table(
        caption="Limits of agreement: unit minus reference, on windows that do not overlap",
        columns=(
            Column(heading="mean of", numeric=False),
            Column(heading="windows"),
            Column(heading="mean", unit="W"),
            Column(heading="lower limit", unit="W"),
            Column(heading=f"its {interval_heading(limits[0].low_w)}", unit="W"),
            Column(heading="upper limit", unit="W"),
            Column(heading=f"its {interval_heading(limits[0].high_w)}", unit="W"),
            Column(heading="limits", unit="% of mean power"),
        ),
        rows=tuple(_row(item) for item in limits),
    )


def _sentence(named: Named, limits: tuple[AgreementLimits, ...]) -> str:
    parts = [
        f"{value_cell(item.low_w, 0)} and {value_cell(item.high_w, 0)}{NBSP}W over {short_duration(item.window_s)}"
        for item in limits
        if item.low_w.assessed and item.high_w.assessed
    ]
    if not parts:
        return f"The limits of agreement of {named.unit} were not assessed: too few windows."
    return (
        f"Nineteen of twenty readings of {named.unit} differ from the reference, as the unit would show it, by "
        f"between {'; between '.join(parts)}."
    )


def _row(item: AgreementLimits) -> tuple[str, ...]:
    percent = (
        f"{number(item.low_pct.value, 1, signed=True)} to {number(item.high_pct.value, 1, signed=True)}"
        if item.low_pct.assessed and item.high_pct.assessed
        else quantity(None, "%")
    )
    return (
        short_duration(item.window_s),
        number(item.windows, 0),
        value_cell(item.mean_w),
        value_cell(item.low_w),
        interval_cell(item.low_w),
        value_cell(item.high_w),
        interval_cell(item.high_w),
        percent,
    )
