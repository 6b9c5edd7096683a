"""Why: zero and gain in the torque domain, and what else the bias goes with."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import torque_against_torque
from wattwitness.model.anatomy import Anatomy
from wattwitness.model.comparison import Comparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.settling import TimeModel
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import because, holds_zero, interval_cell, value_cell, with_interval
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, quantity

NAME = "anatomy"
TITLE = "Zero and gain"
AT_END = (
    "The bias changes along the ride, so zero and gain are those of the end of the ride (of the settled unit, if it "
    "settles), the change before that fitted beside them and taken out."
)
ONE_THING = -0.97
"""Two estimates that go together this closely are one thing to the ride."""


def build(comparison: Comparison) -> Section | None:
    """The anatomy of each unit's error."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    anatomy = named.pair.anatomy
    if anatomy is None or not anatomy.zero_nm.assessed:
        estimate = named.pair.overall.bias_pct if anatomy is None else anatomy.zero_nm
        yield not_assessed_paragraph(named, "anatomy", "The error’s zero and gain", estimate)
        if anatomy is None or not anatomy.torque_nm.size:
            return
    else:
        yield Paragraph(text=_sentence(named, anatomy))
        settling = named.pair.settling
        if settling is not None and settling.model in (TimeModel.LINEAR, TimeModel.SETTLING, TimeModel.STEP):
            yield Paragraph(text=AT_END, tone=Tone.NOTE)
        if anatomy.zero_gain_correlation < ONE_THING:
            yield Paragraph(
                text=(
                    "The ride hardly varies the torque, so zero and gain are known together far better than each for "
                    "itself: a larger one with a smaller other fits as well."
                ),
                tone=Tone.NOTE,
            )
        if anatomy.strays:
            yield Paragraph(text=_strays(anatomy), tone=Tone.WARNING)
    yield torque_against_torque.build(named.pair)
    yield _table(anatomy)


def _sentence(named: Named, anatomy: Anatomy) -> str:
    zero, gain = with_interval(anatomy.zero_nm, 2), with_interval(anatomy.gain_pct, 2)
    start = f"{sentence_start(named.unit)}’s torque is the reference’s"
    if holds_zero(anatomy.zero_nm) and holds_zero(anatomy.gain_pct):
        return f"Between {named.unit}’s torque and the reference’s no zero ({zero}) and no gain ({gain}) is shown."
    if holds_zero(anatomy.zero_nm):
        return f"{start} with a gain of {gain}; no zero is shown ({zero})."
    if holds_zero(anatomy.gain_pct):
        return f"{start} with a zero of {zero} added at any effort; no gain is shown ({gain})."
    return f"{start} with a gain of {gain} and a zero of {zero} added at any effort."


def _strays(anatomy: Anatomy) -> str:
    zero, gain = (
        quantity(value, unit, 2, signed=True)
        for value, unit in ((anatomy.median_zero_nm, "N·m"), (anatomy.median_gain_pct, "%"))
    )
    return (
        f"A line that a few stray stretches cannot move has a zero of {zero} and a gain of {gain}, far from these: "
        "part of the ride goes its own way. Look at the bias along the ride before believing either."
    )


def _table(anatomy: Anatomy) -> Table:
    per_100, per_10 = f"per 100{NBSP}W at equal cadence", f"per 10{NBSP}rpm at equal torque"
    rows: tuple[tuple[str, Estimate], ...] = (
        (per_100, anatomy.per_100_w_pct),
        (per_10, anatomy.per_10_rpm_pct),
        ("after a rise of power less after a fall", anatomy.up_minus_down_pct),
        ("per point of left share", anatomy.per_left_point_pct),
    )
    return Table(
        caption="Change of the bias, in percentage points",
        columns=(
            Column(heading="with", numeric=False),
            Column(heading="change"),
            Column(heading=interval_heading(anatomy.per_100_w_pct)),
            Column(heading="if not assessed, why", numeric=False),
        ),
        rows=tuple(
            (
                name,
                value_cell(estimate, 2),
                interval_cell(estimate, 2),
                "" if estimate.not_assessed is None else because(estimate.not_assessed),
            )
            for name, estimate in rows
        ),
    )
