"""Is it the same every day: the forest of rides, the spread between them, what it goes with, what stands apart."""

from __future__ import annotations

import math

import numpy as np

from wattwitness.charts import forest
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import Consistency, RandomEffects, Study
from wattwitness.sections.building import Block
from wattwitness.words.estimates import counted, interval_cell, missing_words, value_cell, with_interval
from wattwitness.words.names import clean
from wattwitness.words.numbers import ABSENT, number, quantity, typeset

NAME = "consistency"
TITLE = "From ride to ride"


def build(study: Study) -> Section:
    """The forest plot, both random-effects models, precision, moderators and outlying rides."""
    found = study.consistency
    at = f"{quantity(found.at_w, 'W', 0)} and {quantity(found.at_rpm, 'rpm', 0)}"
    blocks: list[Block] = [Paragraph(text=typeset(found.says)), forest.build(study)]
    if found.standardised.rides > 1:
        blocks.append(
            Table(
                caption="All rides together",
                columns=(
                    Column(heading="figure", numeric=False),
                    Column(heading="as ridden", numeric=False),
                    Column(heading=f"at {at}", numeric=False),
                ),
                rows=_rows(found.crude, found.standardised),
            )
        )
    blocks.append(Paragraph(text=_precision(found)))
    for moderator in found.moderators:
        blocks.append(
            Paragraph(
                text=f"{moderator.name[:1].upper()}{moderator.name[1:]}: {with_interval(moderator.per_unit, 2)}; "
                f"{typeset(moderator.says)}.",
                tone=Tone.NOTE,
            )
        )
    blocks += _settling(study)
    blocks += [
        Paragraph(
            text=f"{clean(ride.name)} stands apart. {typeset(ride.why)} It counts; without it the mean would be "
            f"{quantity(ride.mean_without_pct, '%', signed=True)}.",
            tone=Tone.WARNING,
        )
        for ride in found.outlying
    ]
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def _precision(found: Consistency) -> str:
    """How the bias varies within a ride and between rides, as far as either is known."""
    within, between = found.repeatability_sd_pct, found.intermediate_sd_pct
    if not within.assessed:
        return f"How the bias varies within a ride, from one block of minutes to the next, was {missing_words(within)}."
    text = (
        "Within a ride, from one block of minutes to the next, the bias varies with a standard deviation of "
        f"{with_interval(within, 2, signed=False)} (repeatability)"
    )
    if not between.assessed:
        return f"{text}; between blocks of different days it was {missing_words(between)}."
    return (
        f"{text}; from any block to any other of another day {with_interval(between, 2, signed=False)} (intermediate "
        "precision). Both hold the reference’s own scatter."
    )


def _settling(study: Study) -> list[Block]:
    """On how many rides the bias settled, and how."""
    rides = [ride for ride in study.rides if ride.counts]
    settling = [ride for ride in rides if math.isfinite(ride.tau_min)]
    if not settling:
        return []
    start, settled, tau = (
        float(np.median([getattr(ride, name) for ride in settling]))
        for name in ("start_bias_pct", "settled_bias_pct", "tau_min")
    )
    text = (
        f"On {len(settling)} of {counted(len(rides), 'ride')} the bias settled: usually from "
        f"{quantity(start, '%', signed=True)} to {quantity(settled, '%', signed=True)}, with a time constant of "
        f"{quantity(tau, 'min')}. Rides at equal power and cadence are held against each other once settled."
    )
    return [Paragraph(text=text)]


def _rows(crude: RandomEffects, carried: RandomEffects) -> tuple[tuple[str, ...], ...]:
    def row(words: str, *cells: str) -> tuple[str, ...]:
        return (words, *cells)

    both = (crude, carried)
    return (
        row("mean bias, %", *(with_interval(one.mean_bias_pct) for one in both)),
        row(
            "standard deviation between rides, %",
            *(with_interval(one.between_ride_sd_pct, 2, signed=False) for one in both),
        ),
        row("the next ride, %", *(interval_cell(one.next_ride_pct) for one in both)),
        row(
            "standard deviation between rides by Paule and Mandel, %",
            *(number(one.paule_mandel_sd_pct, 2) for one in both),
        ),
        row(
            "share of the scatter that is between rides",
            *(value_cell(one.variance_share, 2, signed=False) for one in both),
        ),
        row("rides", *(str(one.rides) if one.rides else ABSENT for one in both)),
    )
