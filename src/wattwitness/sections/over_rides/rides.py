"""Every ride with its figures, and those that do not count with the reason and what they would change."""

from __future__ import annotations

from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import RideFigures, Study
from wattwitness.sections.building import Block
from wattwitness.study.before_after import unit_faults
from wattwitness.words.estimates import because, counted, interval_cell, value_cell
from wattwitness.words.names import clean
from wattwitness.words.numbers import ABSENT, number, quantity, typeset

NAME = "rides"
TITLE = "The rides"
LONGEST = 400


def build(study: Study) -> Section:
    """The table of rides, then a paragraph for each that was left out."""
    blocks: list[Block] = [
        Table(
            caption="Every ride",
            columns=(
                Column(heading="ride", numeric=False),
                Column(heading="date", numeric=False),
                Column(heading="hours"),
                Column(heading="mean power", unit="W"),
                Column(heading="bias", unit="%"),
                Column(heading="interval", unit="%"),
                Column(heading="at equal power", unit="%"),
                Column(heading="faults"),
                Column(heading="group", numeric=False),
                Column(heading="counts", numeric=False),
            ),
            rows=tuple(_row(ride) for ride in study.rides),
        )
    ]
    left_out = study.consistency.left_out
    if left_out:
        text = f"{counted(len(left_out), 'ride was', 'rides were')} left out."
        blocks.insert(0, Paragraph(text=text, tone=Tone.WARNING))
    for ride in left_out:
        change = ""
        if ride.mean_with_it_pct is not None:
            change = (
                f" Had it counted, the mean as ridden would be {quantity(ride.mean_with_it_pct, '%', signed=True)}."
            )
        why = typeset(ride.why) or because(ride.slug)
        why = why if why.endswith((".", "!", "?", "…")) else f"{why}."
        text = f"{clean(ride.name)} does not count: {why}{change}"
        blocks.append(Paragraph(text=text, tone=Tone.NOTE))
    for figures in study.rides:
        blocks += [
            Paragraph(text=f"{clean(figures.name)}: {typeset(clean(said, longest=LONGEST))}", tone=Tone.NOTE)
            for said in figures.said
        ]
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def _row(ride: RideFigures) -> tuple[str, ...]:
    return (
        clean(ride.name),
        ride.day or ABSENT,
        number(ride.hours, 2),
        number(ride.mean_w, 0),
        value_cell(ride.bias_pct),
        interval_cell(ride.bias_pct),
        value_cell(ride.standardised_pct),
        number(unit_faults(ride), 0) if ride.faults_looked_for else ABSENT,
        clean(ride.group) or ABSENT,
        "yes" if ride.counts else "no",
    )
