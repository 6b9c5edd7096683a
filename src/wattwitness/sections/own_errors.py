"""Three meters or more put on trial together: whose error is whose."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import own_errors
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.three_meters import MetersTogether, OwnSpread
from wattwitness.sections.building import Block
from wattwitness.words.estimates import interval_cell, value_cell, with_interval
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import NBSP, long_duration, number, percent_level, short_duration, typeset

NAME = "own_errors"
TITLE = "Each meter’s own error"
LONGEST_MESSAGE = 500


def build(comparison: Comparison) -> Section | None:
    """One section for all meters; none with fewer than three recordings."""
    together = comparison.meters
    if together is None:
        return None
    return Section(name=NAME, title=TITLE, blocks=tuple(_blocks(together)))


def _blocks(together: MetersTogether) -> Iterator[Block]:
    if together.not_assessed:
        yield Paragraph(text=f"The meters’ own errors were not assessed: {typeset(together.why)}")
        return
    yield Paragraph(text=_sentence(together))
    for warning in together.warnings:
        yield Paragraph(text=clean(typeset(warning), longest=LONGEST_MESSAGE), tone=Tone.WARNING)
    yield own_errors.build(together)
    yield _table(together)
    if together.closures:
        yield Paragraph(text=_closing(together))
    for assumption in together.assumptions:
        yield Paragraph(text=typeset(assumption), tone=Tone.NOTE)
    if any(spread.resolved < 1 for meter in together.meters for spread in meter.spreads):
        yield Paragraph(
            text="Each meter was seen through the others’ responses. What its error does faster than those let through "
            "is not seen: the interval reaches from none of it to as much as is seen just below.",
            tone=Tone.NOTE,
        )


def _sentence(together: MetersTogether) -> str:
    parts = []
    for meter in together.meters:
        spread = meter.spreads[-1]
        parts.append(f"{clean(meter.name)} {with_interval(spread.own_sd_pct, 2, signed=False)}")
    width = short_duration(together.meters[0].spreads[-1].averaging_s)
    level = percent_level(together.meters[0].spreads[0].own_sd_pct.level)
    return sentence_start(
        f"nobody taken as true, the meters’ own errors in means over {width} are: {'; '.join(parts)} ({level}), from "
        f"{long_duration(together.seconds)} in which all of them showed over 60{NBSP}W."
    )


def _table(together: MetersTogether) -> Table:
    level = percent_level(together.meters[0].spreads[0].own_sd_pct.level)
    return Table(
        caption="Own error of each meter: standard deviation over the ride, its constant bias left out",
        columns=(
            Column(heading="meter", numeric=False),
            Column(heading="mean of", numeric=False),
            Column(heading="own error", unit="%"),
            Column(heading=f"{level} interval", unit="%"),
            Column(heading="own error", unit="W"),
            Column(heading=f"{level} interval", unit="W"),
            Column(heading="", numeric=False),
        ),
        rows=tuple(
            (
                clean(meter.name),
                short_duration(spread.averaging_s),
                value_cell(spread.own_sd_pct, 2, signed=False),
                interval_cell(spread.own_sd_pct, 2, signed=False),
                value_cell(spread.own_sd_w, 1, signed=False),
                interval_cell(spread.own_sd_w, 1, signed=False),
                _remark(spread),
            )
            for meter in together.meters
            for spread in meter.spreads
        ),
    )


def _remark(spread: OwnSpread) -> str:
    if spread.contradicted:
        return f"variance {number(spread.variance_pct2, 3, signed=True)} %², beyond chance"
    if spread.negative:
        return f"variance {number(spread.variance_pct2, 3, signed=True)} %²"
    return ""


def _closing(together: MetersTogether) -> str:
    closes = all(closure.closes for closure in together.closures)
    worst = max(together.closures, key=lambda closure: abs(closure.closure_pct.value or 0.0))
    what = "The biases between every three meters" if len(together.closures) > 1 else "The three biases"
    if closes:
        return f"{what} close: their product differs from one by {with_interval(worst.closure_pct, 3)}."
    return f"{what} do not close: their product differs from one by {with_interval(worst.closure_pct, 3)}."
