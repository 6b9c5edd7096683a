"""Over cadence: the cadence bands."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import bias_by_cadence
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import holds_zero, interval_cell, value_cell
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, number

NAME = "cadence"
TITLE = "At which cadences"


def build(comparison: Comparison) -> Section | None:
    """Cadence bands for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    pair = named.pair
    if not pair.cadence_bands:
        yield not_assessed_paragraph(named, "cadence_bands", "The bias by cadence", pair.overall.bias_pct)
        return
    slope = pair.trend.per_10_rpm
    if slope.assessed:
        words = f"{value_cell(slope)} ({interval_cell(slope)}){NBSP}percentage points per 10{NBSP}rpm"
        shown = "no change with cadence is shown" if holds_zero(slope) else "the bias changes with cadence"
        yield Paragraph(text=f"{sentence_start(named.unit)}: with power and time allowed for, {shown}: {words}.")
    yield bias_by_cadence.build(pair)
    yield Table(
        caption="Cadence bands, entered by the 30 s mean",
        columns=(
            Column(heading="from", unit="rpm"),
            Column(heading="to below", unit="rpm"),
            Column(heading="bias", unit="%"),
            Column(heading=interval_heading(pair.cadence_bands[0].bias_pct), unit="%"),
            Column(heading="reference", unit="W"),
            Column(heading="unit", unit="W"),
            Column(heading="seconds"),
        ),
        rows=tuple(
            (
                number(band.low_rpm, 0),
                number(band.high_rpm, 0),
                value_cell(band.bias_pct),
                interval_cell(band.bias_pct),
                number(band.reference_w, 1),
                number(band.unit_w, 1),
                number(band.seconds, 0),
            )
            for band in pair.cadence_bands
        ),
    )
