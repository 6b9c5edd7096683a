"""What known weights on the cranks say of a meter, in words and tables."""

from __future__ import annotations

from dataclasses import replace

from wattwitness.charts import budget as budget_chart
from wattwitness.charts import weighing as weighing_chart
from wattwitness.model.chart import Chart
from wattwitness.model.estimate import Estimate
from wattwitness.model.hanging_weights import ReferenceDrift, Side, SideResult, Weighing, WeighingReport
from wattwitness.model.recording import Notice, Severity
from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.sections.budget_table import budget_tables
from wattwitness.words.estimates import (
    counted,
    holds_zero,
    interval_cell,
    listed,
    missing_words,
    reads,
    value_cell,
    with_interval,
)
from wattwitness.words.names import clean, sentence_start
from wattwitness.words.numbers import NBSP, number, percent_level, typeset

CAUTION = (
    "Weights that fall and cranks that swing break feet and hands. Block the wheel or brake, keep clear of "
    "the weight, hang it low, and hang no more than the makers of meter, cranks and bike allow. Their instructions, "
    "local rules and a qualified person come first."
)
STATIC = (
    "A meter that stands still under weights may still err when it turns: weights check torque, not cadence, and not "
    "what the maker’s software makes of both."
)
SLOPE = "What makes the slope uncertain"
SAME_EACH_TIME = (
    "Diamonds are the same in every weighing with these masses and this lever, circles are this weighing’s own."
)
DOUBTS = frozenset({"readings_off_the_line", "slope_implausible", "zero_moved", "zero_not_followed"})
SIDES = {Side.LEFT: "left", Side.RIGHT: "right", Side.BOTH: "both together"}


def weighing_sections(report: WeighingReport) -> tuple[Section, ...]:
    """One section for each worksheet, one for each meter that was weighed more than once."""
    sections = [_weighing(item, place) for place, item in enumerate(report.weighings, start=1)]
    sections += [_drift(item, place, report) for place, item in enumerate(report.drifts, start=1)]
    last = Section(
        name="caution",
        title="Before you hang weights again",
        blocks=(Paragraph(text=STATIC), Paragraph(text=CAUTION, tone=Tone.WARNING)),
    )
    return (*sections, last)


def _weighing(weighing: Weighing, place: int) -> Section:
    meter = clean(weighing.meter) or "the meter"
    when = f", {weighing.date}" if weighing.date else ""
    blocks: list[Paragraph | Table | Chart] = [
        Paragraph(
            text=sentence_start(f"{meter} {reads(weighing.gain_pct, witness='these weights')}."), tone=Tone.HEADLINE
        ),
        Paragraph(text=_correction(weighing)),
    ]
    if weighing.side_difference_pct.assessed:
        blocks.append(Paragraph(text=f"Left less right: {with_interval(weighing.side_difference_pct)}."))
    blocks += [_notice(item) for item in weighing.notices]
    blocks.append(replace(weighing_chart.departures(weighing), name=f"{weighing_chart.DEPARTURES}_{place}"))
    blocks.append(_sides(weighing))
    if reasons := _not_assessed(weighing):
        blocks.append(Paragraph(text=reasons, tone=Tone.NOTE))
    blocks += [_loads(side) for side in weighing.sides]
    if weighing.budget.contributions:
        chart = budget_chart.bars(
            weighing.budget, SLOPE, of=f"the slope of {meter}", what="the slope", whose=SAME_EACH_TIME
        )
        blocks.append(replace(chart, name=f"{budget_chart.NAME}_{place}"))
    blocks += budget_tables(weighing.budget, SLOPE)
    return Section(name=f"weighing_{place}", title=f"{sentence_start(meter)}{when}", blocks=tuple(blocks))


def _correction(weighing: Weighing) -> str:
    factor = weighing.correction_factor
    gravity = f"Gravity {weighing.gravity_m_s2:.4f}{NBSP}m/s², {typeset(weighing.gravity_origin)}."
    if factor.value is None:
        return f"No correction follows: {missing_words(factor)}. {gravity}"
    text = f"Its power times {number(factor.value, 4)} ({interval_cell(factor, 4, signed=False)}) would be right"
    if any(notice.slug in DOUBTS for notice in weighing.notices):
        text += ", if what is warned of here is settled first and changes nothing"
    elif holds_zero(weighing.gain_pct):
        text += ", which holds 1: there is nothing that these weights show to be corrected"
    return f"{text}. {gravity}"


def _estimates(side: SideResult) -> tuple[tuple[str, str, Estimate], ...]:
    return (
        ("slope over 1", "%", side.gain_pct),
        ("zero before", "N·m", side.zero_nm),
        ("zero after less before", "N·m", side.zero_shift_nm),
        ("largest departure from a line", "% of largest", side.linearity_pct),
        ("unloading less loading", "% of largest", side.hysteresis_pct),
        ("repeatability, one reading", "N·m", side.repeatability_nm),
        ("from position to position", "%", side.position_pct),
    )


def _not_assessed(weighing: Weighing) -> str:
    """Why cells of the table are empty, a sentence for each reason: in the cells it would burst the table."""
    without: dict[str, list[str]] = {}
    for side in weighing.sides:
        for what, _, estimate in _estimates(side):
            if not estimate.assessed:
                without.setdefault(missing_words(estimate), []).append(f"{what} ({SIDES[side.side]})")
    return " ".join(f"{sentence_start(listed(whats))}: {why}." for why, whats in without.items())


def _sides(weighing: Weighing) -> Table:
    level = percent_level(weighing.gain_pct.level)
    rows = [
        (SIDES[side.side], what, unit, *_cells(estimate, 2))
        for side in weighing.sides
        for what, unit, estimate in _estimates(side)
    ]
    return Table(
        caption="What the weights show",
        columns=(
            Column(heading="side", numeric=False),
            Column(heading="what", numeric=False),
            Column(heading="unit", numeric=False),
            Column(heading="value"),
            Column(heading=f"{level} interval"),
        ),
        rows=tuple(rows),
    )


def _cells(estimate: Estimate, decimals: int) -> tuple[str, str]:
    if not estimate.assessed:
        return number(None), number(None)
    spread = estimate.low is not None and estimate.low >= 0 and estimate.unit == "N·m"
    return value_cell(estimate, decimals, signed=not spread), interval_cell(estimate, decimals, signed=not spread)


def _loads(side: SideResult) -> Table:
    return Table(
        caption=f"Departure from the line by load, {SIDES[side.side]} ({counted(side.series, 'series', 'series')})",
        columns=(
            Column(heading="torque", unit="N·m"),
            Column(heading="readings"),
            Column(heading="departure", unit="N·m"),
        ),
        rows=tuple(
            (number(load.torque_nm, 1), number(load.readings, 0), number(load.departure_nm, 3, signed=True))
            for load in side.loads
        ),
        folded=True,
    )


def _drift(drift: ReferenceDrift, place: int, report: WeighingReport) -> Section:
    meter = clean(drift.meter) or "the meter"
    dates = f" from {drift.first_date} to {drift.last_date}" if drift.first_date and drift.last_date else ""
    change = drift.change_pct
    if holds_zero(change):
        head = f"{meter} shows no drift that {drift.weighings} weighings{dates} could tell from none"
    else:
        head = f"{meter} has drifted over {drift.weighings} weighings{dates}"
    slope = drift.per_30_days_pct
    chart = weighing_chart.gains(tuple(item for item in report.weighings if item.meter == drift.meter))
    blocks = (
        Paragraph(text=sentence_start(f"{head}: last less first {with_interval(change, 2)}."), tone=Tone.HEADLINE),
        Paragraph(
            text="Over 30 days: " + (f"{with_interval(slope, 2)}." if slope.assessed else f"{missing_words(slope)}.")
        ),
        Paragraph(text=f"Standard deviation between weighings: {with_interval(drift.between_pct, 2, signed=False)}."),
        Paragraph(
            text="What was the same each time, such as the masses and the lever, is in none of these intervals.",
            tone=Tone.NOTE,
        ),
        replace(chart, name=f"{chart.name}_{place}"),
    )
    return Section(name=f"drift_{place}", title=f"Whether {meter} drifts", blocks=blocks)


def _notice(notice: Notice) -> Paragraph:
    tone = Tone.WARNING if notice.severity is Severity.WARNING else Tone.NOTE
    return Paragraph(text=typeset(notice.message), tone=tone)
