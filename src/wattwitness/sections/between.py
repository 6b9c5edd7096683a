"""The units against one another, where there are several."""

from __future__ import annotations

from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table
from wattwitness.sections.building import interval_heading
from wattwitness.words.estimates import interval_cell, reads_briefly, value_cell
from wattwitness.words.names import pair_names
from wattwitness.words.numbers import number

NAME = "between"
TITLE = "The units against one another"


def build(comparison: Comparison) -> Section | None:
    """One row for each two units; none where there is one unit only."""
    pairs = comparison.between_units
    if not pairs:
        return None
    return Section(
        name=NAME,
        title=TITLE,
        blocks=(
            Paragraph(
                text="Each unit compared with each other one directly. Neither is taken as true, so no uncertainty of "
                "the reference enters."
            ),
            Table(
                caption="Second unit over first",
                columns=(
                    Column(heading="first", numeric=False),
                    Column(heading="second", numeric=False),
                    Column(heading="seconds"),
                    Column(heading="second over first", unit="%"),
                    Column(heading=interval_heading(pairs[0].overall.bias_pct), unit="%"),
                    Column(heading="in words, the second", numeric=False),
                ),
                rows=tuple(
                    (
                        *pair_names(pair),
                        number(pair.common_seconds, 0),
                        value_cell(pair.overall.bias_pct),
                        interval_cell(pair.overall.bias_pct),
                        reads_briefly(pair.overall.bias_pct),
                    )
                    for pair in pairs
                ),
            ),
        ),
    )
