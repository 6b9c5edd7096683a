"""Steady against surging effort."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.agreement import EffortKind
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import interval_cell, reads_briefly, value_cell
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import number

NAME = "efforts"
TITLE = "Steady and surging effort"
KINDS = {EffortKind.STEADY: "steady", EffortKind.SURGING: "surging"}


def build(comparison: Comparison) -> Section | None:
    """Bias by kind of effort for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    efforts = named.pair.efforts
    if not efforts:
        yield not_assessed_paragraph(named, "efforts", "The bias by kind of effort", named.pair.overall.bias_pct)
        return
    words = "; ".join(f"while {KINDS[effort.kind]}: {reads_briefly(effort.bias_pct)}" for effort in efforts)
    yield Paragraph(text=f"{sentence_start(named.unit)}, {words}.")
    yield Table(
        caption="Bias by kind of effort",
        columns=(
            Column(heading="effort", numeric=False),
            Column(heading="bias", unit="%"),
            Column(heading=interval_heading(efforts[0].bias_pct), unit="%"),
            Column(heading="reference", unit="W"),
            Column(heading="unit", unit="W"),
            Column(heading="seconds"),
        ),
        rows=tuple(
            (
                KINDS[effort.kind],
                value_cell(effort.bias_pct),
                interval_cell(effort.bias_pct),
                number(effort.reference_w, 1),
                number(effort.unit_w, 1),
                number(effort.seconds, 0),
            )
            for effort in efforts
        ),
    )
