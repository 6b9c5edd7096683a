"""Whether the bias settles, drifts or steps along the ride."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import bias_over_time
from wattwitness.model.comparison import Comparison
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.settling import Settling, TimeModel
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import because, interval_cell, value_cell
from wattwitness.words.numbers import quantity

NAME = "settling"
TITLE = "Does it settle or drift"


def build(comparison: Comparison) -> Section | None:
    """The bias over time for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    settling = named.pair.settling
    if settling is None or settling.model is None:
        estimate = named.pair.overall.bias_pct if settling is None else settling.start_bias_pct
        yield not_assessed_paragraph(named, "settling", "The course of the bias", estimate)
        return
    tone = Tone.WARNING if settling.model is TimeModel.CONFOUNDED else Tone.PLAIN
    yield Paragraph(text=f"{named.unit}: {settling.why[:1].lower()}{settling.why[1:]}", tone=tone)
    beyond = beyond_the_ride(settling)
    if beyond:
        yield Paragraph(text=beyond, tone=Tone.WARNING)
    for sentence in (settling.halves_sentence, settling.temperature_sentence):
        if sentence:
            yield Paragraph(text=sentence)
    yield bias_over_time.build(named.pair)
    yield _table(settling)


def beyond_the_ride(settling: Settling) -> str:
    """That a settling is not over within the ride, so that its end is extrapolated; else empty."""
    until, end_min = settling.settled_at_min, float(settling.at_s.max()) / 60 if settling.at_s.size else 0.0
    if settling.model is not TimeModel.SETTLING or until.value is None or until.value <= end_min:
        return ""
    return (
        f"The ride ended before that, after about {quantity(end_min, 'min', 0)}: the time at which it is over and the "
        "settled bias are extrapolated from the fitted course, and were not seen."
    )


def _table(settling: Settling) -> Table:
    rows = (
        ("bias at the start", "%", settling.start_bias_pct),
        ("settled bias", "%", settling.settled_bias_pct),
        ("bias at the end", "%", settling.end_bias_pct),
        ("time constant", "min", settling.tau_min),
        ("settled, or stepped, at", "min", settling.settled_at_min),
        ("second half less first, at equal power", "percentage points", settling.halves_change_pct),
        ("for 10 °C of the recorded temperature", "percentage points", settling.per_10_c_pct),
    )
    return Table(
        caption="The course of the bias",
        columns=(
            Column(heading="", numeric=False),
            Column(heading="value"),
            Column(heading=interval_heading(settling.start_bias_pct)),
            Column(heading="unit", numeric=False),
            Column(heading="if not assessed, why", numeric=False),
        ),
        rows=tuple(
            (
                name,
                value_cell(estimate, signed=unit != "min"),
                interval_cell(estimate, signed=unit != "min"),
                unit,
                "" if estimate.not_assessed is None else because(estimate.not_assessed),
            )
            for name, unit, estimate in rows
        ),
        folded=True,
    )
