"""Over power: the difference against power, the power bands, and whether a trend in them is what it seems."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.charts import difference_by_power
from wattwitness.model.agreement import BandTrend, PowerBand
from wattwitness.model.comparison import Comparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.building import Block, Named, for_each_unit, interval_heading, not_assessed_paragraph
from wattwitness.words.estimates import holds_zero, interval_cell, value_cell
from wattwitness.words.numbers import NBSP, number, typeset

NAME = "power"
TITLE = "At which powers"


def build(comparison: Comparison) -> Section | None:
    """Power bands and trends for each unit."""
    return for_each_unit(comparison, NAME, TITLE, _blocks)


def _blocks(named: Named) -> Iterator[Block]:
    pair = named.pair
    if not pair.power_bands:
        yield not_assessed_paragraph(named, "power_bands", "The bias by power", pair.overall.bias_pct)
        if not pair.overall.bias_pct.assessed:
            return
    else:
        yield Paragraph(text=_trend_sentence(named))
        if pair.trend.mixed and pair.trend.why:
            why = typeset(pair.trend.why)
            text = f"Read the bands with care: {why[:1].lower()}{why[1:]}"
            yield Paragraph(text=text, tone=Tone.WARNING)
    yield difference_by_power.build(pair)
    if pair.power_bands:
        yield _table(pair.power_bands)
    if any(estimate.assessed for _, estimate, _ in _slopes(pair.trend)):
        yield _trend_table(pair.trend)


def _trend_sentence(named: Named) -> str:
    slope = named.pair.trend.per_100_w
    if not slope.assessed:
        return "Whether the bias changes with power was not fitted: the ride does not vary enough to tell."
    words = f"{value_cell(slope)} ({interval_cell(slope)}){NBSP}percentage points per 100{NBSP}W"
    if holds_zero(slope):
        return f"With cadence and time allowed for, no change of the bias of {named.unit} with power is shown: {words}."
    return f"With cadence and time allowed for, the bias of {named.unit} changes with power: {words}."


def _table(bands: tuple[PowerBand, ...]) -> Table:
    return Table(
        caption="Power bands, entered by the 30 s mean of the reference as the unit would show it",
        columns=(
            Column(heading="from", unit="W"),
            Column(heading="to below", unit="W"),
            Column(heading="bias", unit="%"),
            Column(heading=interval_heading(bands[0].bias_pct), unit="%"),
            Column(heading="reference", unit="W"),
            Column(heading="unit", unit="W"),
            Column(heading="seconds"),
        ),
        rows=tuple(
            (
                number(band.low_w, 0),
                number(band.high_w, 0),
                value_cell(band.bias_pct),
                interval_cell(band.bias_pct),
                number(band.reference_w, 1),
                number(band.unit_w, 1),
                number(band.seconds, 0),
            )
            for band in bands
        ),
    )


def _slopes(trend: BandTrend) -> tuple[tuple[str, Estimate, Estimate], ...]:
    return (
        (f"per 100{NBSP}W", trend.per_100_w, trend.alone_per_100_w),
        (f"per 10{NBSP}rpm", trend.per_10_rpm, trend.alone_per_10_rpm),
        ("per hour", trend.per_hour, trend.alone_per_hour),
    )


def _trend_table(trend: BandTrend) -> Table:
    return Table(
        caption="Change of the bias, in percentage points: fitted together, and each alone",
        columns=(
            Column(heading="change", numeric=False),
            Column(heading="together"),
            Column(heading=f"together, {interval_heading(trend.per_100_w)}"),
            Column(heading="alone"),
            Column(heading=f"alone, {interval_heading(trend.alone_per_100_w)}"),
        ),
        rows=tuple(
            (name, value_cell(together), interval_cell(together), value_cell(alone), interval_cell(alone))
            for name, together, alone in _slopes(trend)
        ),
        folded=True,
    )
