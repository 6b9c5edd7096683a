"""Along the ride: first half against second, and block by block."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.agreement.change import change_of_bias
from wattwitness.charts import bias_by_block
from wattwitness.model.agreement import PeriodBias
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import holds_zero, interval_cell, reads_briefly, value_cell
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, clock_time, decimals_for, number

NAME = "periods"
TITLE = "Along the ride"


def build(comparison: Comparison) -> Section | None:
    """Halves and blocks for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    pair = named.pair
    if not pair.halves and not pair.blocks:
        yield not_assessed_paragraph(named, "halves", "The change along the ride", pair.overall.bias_pct)
        return
    if len(pair.halves) == 2:
        yield Paragraph(text=_halves_sentence(named))
    yield bias_by_block.build(pair)
    if pair.halves:
        yield _table("Halves of the ride", pair.halves)
    if pair.blocks:
        yield _table("Blocks of the ride", pair.blocks)


def _halves_sentence(named: Named) -> str:
    first, second = named.pair.halves
    unit, one, two = sentence_start(named.unit), reads_briefly(first.bias_pct), reads_briefly(second.bias_pct)
    both = f"{unit}, first half: {one}; second half: {two}."
    change = change_of_bias(first, second)
    if change.value is None or change.low is None or change.high is None:
        return both
    decimals = decimals_for(change.value, change.low, change.high)
    ends = f"{number(change.low, decimals, signed=True)} to {number(change.high, decimals, signed=True)}"
    span = f"{ends}{NBSP}percentage points"
    if holds_zero(change):
        return f"{both} No change between them is shown: it lies anywhere in {span}."
    return (
        f"{both} It changed by {number(change.value, decimals, signed=True)}{NBSP}percentage points ({span}), "
        f"that is, {'downward' if change.value < 0 else 'upward'}."
    )


def _table(caption: str, periods: tuple[PeriodBias, ...]) -> Table:
    return Table(
        caption=caption,
        columns=(
            Column(heading="from", unit="h:mm:ss"),
            Column(heading="to", unit="h:mm:ss"),
            Column(heading="bias", unit="%"),
            Column(heading=interval_heading(periods[0].bias_pct), unit="%"),
            Column(heading="reference", unit="W"),
            Column(heading="unit", unit="W"),
            Column(heading="seconds"),
        ),
        rows=tuple(
            (
                clock_time(period.start_s),
                clock_time(period.end_s),
                value_cell(period.bias_pct),
                interval_cell(period.bias_pct),
                number(period.reference_w, 1),
                number(period.unit_w, 1),
                number(period.seconds, 0),
            )
            for period in periods
        ),
        places=tuple((period.start_s, period.end_s) for period in periods),
    )
